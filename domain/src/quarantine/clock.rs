//! The plain clock: who shares water with whom when, and when a unit's days are done. A function of the room's
//! state and of now. (Signs, losses, looks, treatments and water that stays the unit's are not in it yet.)
//!
//! One sweep over the instants at which anything happened. Within an instant: splits and merges, openings, then the
//! water mixes, then a sign-off counts.

use std::collections::BTreeMap;
use std::sync::Arc;

use uuid::Uuid;

use super::facts::RoomFacts;
use super::member::{Cause, Member};
use super::moment::{Change, Numbered, Stock, Tank, came_in};
use super::unit::Unit;
use super::water::Waters;
use crate::clubs::SharedWater;
use crate::rooms::{Came, StockState, TankState};
use crate::streams::{At, OpId, StockId, TankId};

/// What the clock is computed from.
pub struct RoomView<'a> {
    /// The stocks.
    pub stocks: BTreeMap<StockId, &'a StockState>,
    /// The tanks.
    pub tanks: BTreeMap<TankId, &'a TankState>,
    /// Home clubs, rules and sign-offs.
    pub facts: &'a RoomFacts,
}

/// All units of a room at `now`, the earliest due first.
pub fn units(room: &RoomView<'_>, now: At) -> Vec<Unit> {
    // Without fish from outside there is nothing to hold.
    if !room.stocks.values().any(|stock| came_in(stock)) {
        return Vec::new();
    }
    let numbered = Numbered::of(room);
    let changes = numbered.changes(room, now);
    let n = numbered.stocks.len();
    let mut sweep = Sweep {
        room,
        states: room.stocks.values().copied().collect(),
        waters: Waters::new(n, numbered.waters()),
        numbered,
        sealed: vec![false; n],
        doubted: vec![false; n],
        members: vec![None; n],
        held: 0,
    };
    for moment in changes.chunk_by(|a, b| a.0 == b.0) {
        sweep.pass(moment[0].0, moment);
    }
    sweep.units(now)
}

/// The room while its records are read.
pub(super) struct Sweep<'a> {
    room: &'a RoomView<'a>,
    pub(super) numbered: Numbered,
    states: Vec<&'a StockState>,
    waters: Waters,
    /// Fish from outside that never were in water here: bags not opened, and parts of them.
    pub(super) sealed: Vec<bool>,
    /// Bags that may have been opened.
    pub(super) doubted: Vec<bool>,
    pub(super) members: Vec<Option<Member>>,
    /// How many members there are.
    held: usize,
}

impl Sweep<'_> {
    fn pass(&mut self, at: At, moment: &[(At, Change)]) {
        let mut touched: Vec<Tank> = Vec::new();
        for (_, change) in moment {
            match *change {
                Change::Club(club) => {
                    for stock in 0..self.members.len() {
                        if let Some(member) = &mut self.members[stock] {
                            member.also_under(&Arc::new(self.room.facts.rule_of(club, member.opened)));
                            touched.extend(self.waters.tanks(stock));
                        }
                    }
                }
                Change::Plumbed(tank, system) => {
                    self.waters.plumb(tank, system);
                    touched.push(tank);
                }
                Change::Left(stock, place) => self.waters.leave(stock, place),
                Change::Came(stock) => self.sealed[stock] = true,
                _ => break,
            }
        }
        self.hand_on(at, moment);
        for (_, change) in moment {
            match *change {
                Change::Joined(from, into) => {
                    touched.extend(self.waters.tanks(from).chain(self.waters.tanks(into)));
                }
                Change::Entered(stock, place, doubtful) => {
                    self.waters.enter(stock, place);
                    if place.is_some() {
                        self.open(stock, at, doubtful);
                    }
                    touched.extend(place);
                }
                _ => {}
            }
        }
        self.mix(at, &touched);
        for (_, change) in moment {
            match *change {
                Change::Gone(stock, place) => self.waters.leave(stock, place),
                Change::Signed(i) => self.clear(i),
                _ => {}
            }
        }
    }

    pub(super) fn hold(&mut self, stock: Stock, member: Member) {
        self.held += usize::from(self.members[stock].is_none());
        self.members[stock] = Some(member);
    }

    /// A bag's clock starts when its fish first go into water here. Where they only may have, they are held from
    /// then, but the clock starts again when they surely did.
    pub(super) fn open(&mut self, stock: Stock, at: At, doubtful: bool) {
        let was_sealed = std::mem::take(&mut self.sealed[stock]);
        self.doubted[stock] |= was_sealed && doubtful;
        let sure = !doubtful && std::mem::take(&mut self.doubted[stock]);
        if !was_sealed && !sure {
            return;
        }
        let rule = Arc::new(self.room.facts.rule_for(at, at));
        let cause = Cause::Introduced;
        if let Some(member) = &mut self.members[stock] {
            (member.cause, member.opened) = (cause, at);
            member.restart(at);
            member.also_under(&rule);
            return;
        }
        let (id, opened_by, days) = (self.numbered.stocks[stock], self.made(stock), rule.min_days);
        let due = at.plus(days);
        let new = Member { stock: id, cause, opened_by, since: at, start: at, days, due, opened: at, rule };
        self.hold(stock, new);
    }

    pub(super) fn made(&self, stock: Stock) -> OpId {
        self.states[stock].made.unwrap_or(OpId(Uuid::nil()))
    }

    /// Whoever shares water with a member is one. Under `restart` all go on with the latest start any of them has;
    /// under `wait_for_last` each keeps its own and all wait for the last to be done.
    fn mix(&mut self, at: At, touched: &[Tank]) {
        if self.held == 0 {
            return;
        }
        self.waters.look();
        for &tank in touched {
            let Some(stocks) = self.waters.sharing(tank) else { continue };
            let mut inside = stocks.iter().filter_map(|stock| self.members[*stock].as_ref());
            let Some(mut all) = inside.next().cloned() else { continue };
            inside.for_each(|member| all.take_on(member));
            let latest = all.start;
            for &stock in stocks.iter() {
                if self.members[stock].is_some() {
                    continue;
                }
                let born = self.is_born(stock, at);
                let (cause, start) = if born { (Cause::Descent, latest) } else { (Cause::Breach, at) };
                let (id, opened_by) = (self.numbered.stocks[stock], self.made(stock));
                let due = start.plus(all.days);
                let (since, opened) = (at, at);
                let new = Member { stock: id, cause, opened_by, since, start, due, opened, ..all.clone() };
                all.take_on(&new);
                self.hold(stock, new);
            }
            for stock in stocks {
                let Some(member) = &mut self.members[stock] else { continue };
                if all.rule.shared_water == SharedWater::Restart {
                    member.start = all.start;
                }
                (member.days, member.due) = (all.days, all.due);
                if !Arc::ptr_eq(&member.rule, &all.rule) {
                    member.rule = all.rule.clone();
                }
            }
        }
    }

    /// Young are born into the water they are found in; they never met it.
    fn is_born(&self, stock: Stock, at: At) -> bool {
        let state = self.states[stock];
        matches!(state.came, Some(Came::Born { .. })) && state.since == Some(at)
    }

    /// A sign-off frees a whole unit that is due. One that by now is seen to name other fish than were there, or to
    /// have come too early, counts as never given.
    fn clear(&mut self, i: usize) {
        let signed = &self.room.facts.signed[i];
        let mut named: Vec<Option<Stock>> =
            signed.says.members.iter().map(|id| self.numbered.stock(*id)).collect();
        named.sort_unstable();
        named.dedup();
        let Some(named) = named.into_iter().collect::<Option<Vec<Stock>>>() else { return };
        let Some(&first) = named.first() else { return };
        let is_due = |stock: &Stock| self.members[*stock].as_ref().is_some_and(|m| m.due <= signed.at);
        if named.iter().all(|stock| is_due(stock) && !self.sealed[*stock]) && self.waters.with(first) == named
        {
            for stock in named {
                self.held -= usize::from(self.members[stock].take().is_some());
                self.doubted[stock] = false;
            }
        }
    }

    fn units(mut self, now: At) -> Vec<Unit> {
        let mut units = Vec::new();
        let mut seen = vec![false; self.members.len()];
        for stock in 0..self.members.len() {
            if seen[stock] || !self.waters.is_anywhere(stock) {
                continue;
            }
            if self.sealed[stock] {
                units.push(Unit::of_bag(self.bag(stock, now)));
                continue;
            }
            let there = self.waters.with(stock);
            there.iter().for_each(|stock| seen[*stock] = true);
            let members = there.into_iter().filter_map(|stock| self.members[stock].clone()).collect();
            units.extend(Unit::of_members(members, now));
        }
        units.sort_by_key(|u| (u.due, u.id));
        units
    }

    /// A bag as the member it will be.
    fn bag(&self, stock: Stock, now: At) -> Member {
        let since = self.states[stock].since.unwrap_or(now);
        let cause = Cause::Introduced;
        if let Some(member) = &self.members[stock] {
            return Member { cause, since, ..member.clone() };
        }
        let rule = Arc::new(self.room.facts.rule_for(since, now));
        let (id, opened_by, days) = (self.numbered.stocks[stock], self.made(stock), rule.min_days);
        let due = since.plus(days);
        Member { stock: id, cause, opened_by, since, start: since, days, due, opened: since, rule }
    }
}
