//! The plain clock: who shares water with whom when, and when a unit's days are done. A function of the room's
//! state and of now. (Signs, losses, looks, treatments and water that stays the unit's are not in it yet.)
//!
//! One sweep over the instants at which anything happened. Within an instant: splits and merges, openings, then the
//! water mixes, then a sign-off counts.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use uuid::Uuid;

use super::facts::RoomFacts;
use super::member::{Cause, Member};
use super::moment::{Moment, came_in, moments};
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
    let mut sweep = Sweep {
        room,
        waters: Waters::default(),
        sealed: BTreeSet::new(),
        doubted: BTreeSet::new(),
        members: BTreeMap::new(),
    };
    for (at, moment) in moments(room, now) {
        sweep.pass(at, &moment);
    }
    sweep.units(now)
}

struct Sweep<'a> {
    room: &'a RoomView<'a>,
    waters: Waters,
    /// Fish from outside that never were in water here: bags not opened, and parts of them.
    sealed: BTreeSet<StockId>,
    /// Bags that may have been opened.
    doubted: BTreeSet<StockId>,
    members: BTreeMap<StockId, Member>,
}

impl Sweep<'_> {
    fn pass(&mut self, at: At, moment: &Moment) {
        let mut touched: BTreeSet<TankId> = BTreeSet::new();
        for &club in &moment.clubs {
            for member in self.members.values_mut() {
                let rule = self.room.facts.rule_of(club, member.opened);
                member.also_under(&Arc::new(rule));
                touched.extend(self.waters.tanks(member.stock));
            }
        }
        for &(tank, system) in &moment.plumbed {
            self.waters.plumb(tank, system);
            touched.insert(tank);
        }
        for &(stock, place) in &moment.left {
            self.waters.leave(stock, place);
        }
        self.sealed.extend(&moment.came);
        self.hand_on(at, moment);
        for &(stock, place, doubtful) in &moment.entered {
            self.waters.enter(stock, place);
            if place.is_some() {
                self.open(stock, at, doubtful);
            }
            touched.extend(place);
        }
        let handed = moment.joined.iter().flat_map(|(from, into)| [*from, *into]);
        touched.extend(handed.flat_map(|stock| self.waters.tanks(stock)));
        self.mix(at, touched);
        for &(stock, place) in &moment.gone {
            self.waters.leave(stock, place);
        }
        for &i in &moment.signed {
            self.clear(i);
        }
    }

    /// A bag's clock starts when its fish first go into water here. Where they only may have, they are held from
    /// then, but the clock starts again when they surely did.
    fn open(&mut self, stock: StockId, at: At, doubtful: bool) {
        let was_sealed = self.sealed.remove(&stock);
        if was_sealed && doubtful {
            self.doubted.insert(stock);
        }
        let sure = !doubtful && self.doubted.remove(&stock);
        if !was_sealed && !sure {
            return;
        }
        let rule = Arc::new(self.room.facts.rule_for(at, at));
        let (cause, opened_by, days) = (Cause::Introduced, self.made(stock), rule.min_days);
        match self.members.get_mut(&stock) {
            Some(member) => {
                (member.cause, member.opened) = (cause, at);
                member.restart(at);
                member.also_under(&rule);
            }
            None => {
                let due = at.plus(days);
                let new =
                    Member { stock, cause, opened_by, since: at, start: at, days, due, opened: at, rule };
                self.members.insert(stock, new);
            }
        }
    }

    fn made(&self, stock: StockId) -> OpId {
        self.room.stocks.get(&stock).and_then(|s| s.made).unwrap_or(OpId(Uuid::nil()))
    }

    /// Fish take their clock along into another stock. Several at one instant have no order among themselves: each
    /// round goes by how things stood before it, until nothing changes.
    fn hand_on(&mut self, at: At, moment: &Moment) {
        if moment.split.is_empty() && moment.joined.is_empty() {
            return;
        }
        // A part of an unopened bag is one.
        for bags in [&mut self.sealed, &mut self.doubted] {
            while moment.split.iter().any(|(of, new)| bags.contains(of) && bags.insert(*new)) {}
        }
        for &(from, into) in &moment.joined {
            // Poured into water, the whole bag is opened.
            if !self.sealed.contains(&into) {
                self.open(from, at, false);
            }
        }
        loop {
            let before = self.members.clone();
            for &(of, new) in &moment.split {
                if let Some(member) = before.get(&of) {
                    self.give(member, new, Cause::Descent, at);
                }
            }
            for &(from, into) in &moment.joined {
                match (before.get(&from), before.get(&into)) {
                    (Some(member), Some(_)) => self.give(member, into, Cause::Breach, at),
                    (Some(member), None) => {
                        let mut met = member.clone();
                        if !self.sealed.contains(&into) {
                            met.restart(at);
                        }
                        self.give(&met, into, Cause::Breach, at);
                    }
                    // Home fish come to fish that are held.
                    (None, Some(_)) if !self.sealed.contains(&from) => {
                        if let Some(held) = self.members.get_mut(&into) {
                            held.restart(at);
                        }
                    }
                    _ => {}
                }
            }
            if self.members == before {
                return;
            }
        }
    }

    fn give(&mut self, member: &Member, to: StockId, cause: Cause, at: At) {
        match self.members.get_mut(&to) {
            Some(there) => there.take_on(member),
            None => {
                let opened_by = self.made(to);
                let mut given = Member { stock: to, cause, opened_by, since: at, ..member.clone() };
                if cause == Cause::Breach {
                    given.opened = at;
                }
                self.members.insert(to, given);
            }
        }
    }

    /// Whoever shares water with a member is one. Under `restart` all go on with the latest start any of them has;
    /// under `wait_for_last` each keeps its own and all wait for the last to be done.
    fn mix(&mut self, at: At, mut touched: BTreeSet<TankId>) {
        if self.members.is_empty() {
            return;
        }
        while let Some(tank) = touched.pop_first() {
            let (tanks, stocks) = self.waters.sharing(tank);
            touched.retain(|tank| !tanks.contains(tank));
            let inside: Vec<&Member> = stocks.iter().filter_map(|stock| self.members.get(stock)).collect();
            let Some(mut all) = inside.first().copied().cloned() else { continue };
            inside.iter().for_each(|member| all.take_on(member));
            let latest = all.start;
            let strangers: Vec<StockId> =
                stocks.iter().filter(|stock| !self.members.contains_key(stock)).copied().collect();
            for stock in strangers {
                let born = self.is_born(stock, at);
                let (cause, start) = if born { (Cause::Descent, latest) } else { (Cause::Breach, at) };
                let opened_by = self.made(stock);
                let due = start.plus(all.days);
                let new =
                    Member { stock, cause, opened_by, since: at, start, due, opened: at, ..all.clone() };
                all.take_on(&new);
                self.members.insert(stock, new);
            }
            for stock in stocks {
                let Some(member) = self.members.get_mut(&stock) else { continue };
                if all.rule.shared_water == SharedWater::Restart {
                    member.start = all.start;
                }
                (member.days, member.due, member.rule) = (all.days, all.due, all.rule.clone());
            }
        }
    }

    /// Young are born into the water they are found in; they never met it.
    fn is_born(&self, stock: StockId, at: At) -> bool {
        let state = self.room.stocks.get(&stock);
        state.is_some_and(|s| matches!(s.came, Some(Came::Born { .. })) && s.since == Some(at))
    }

    /// A sign-off frees a whole unit that is due. One that by now is seen to name other fish than were there, or to
    /// have come too early, counts as never given.
    fn clear(&mut self, i: usize) {
        let signed = &self.room.facts.signed[i];
        let named: BTreeSet<StockId> = signed.says.members.iter().copied().collect();
        let Some(there) = named.first().map(|stock| self.waters.with(*stock)) else { return };
        let is_due = |stock: &StockId| self.members.get(stock).is_some_and(|member| member.due <= signed.at);
        if there == named && named.iter().all(is_due) && self.sealed.is_disjoint(&named) {
            self.members.retain(|stock, _| !named.contains(stock));
            self.doubted.retain(|stock| !named.contains(stock));
        }
    }

    fn units(self, now: At) -> Vec<Unit> {
        let mut units = Vec::new();
        let mut seen: BTreeSet<StockId> = BTreeSet::new();
        for stock in self.waters.stocks() {
            if seen.contains(&stock) {
                continue;
            }
            if self.sealed.contains(&stock) {
                units.push(Unit::of_bag(self.bag(stock, now)));
                continue;
            }
            let there = self.waters.with(stock);
            let members = there.iter().filter_map(|stock| self.members.get(stock).cloned()).collect();
            units.extend(Unit::of_members(members, now));
            seen.extend(there);
        }
        units.sort_by_key(|u| (u.due, u.id));
        units
    }

    /// A bag as the member it will be.
    fn bag(&self, stock: StockId, now: At) -> Member {
        let since = self.room.stocks.get(&stock).and_then(|s| s.since).unwrap_or(now);
        let cause = Cause::Introduced;
        if let Some(member) = self.members.get(&stock) {
            return Member { cause, since, ..member.clone() };
        }
        let rule = Arc::new(self.room.facts.rule_for(since, now));
        let (opened_by, days) = (self.made(stock), rule.min_days);
        let due = since.plus(days);
        Member { stock, cause, opened_by, since, start: since, days, due, opened: since, rule }
    }
}
