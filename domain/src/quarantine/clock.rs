//! The clock: who shares water with whom when, and when a unit's days are done. A function of the room's records, of
//! when they were received, and of now.
//!
//! One sweep over the instants at which anything happened. Within an instant: emptied, splits and merges, openings,
//! then the water mixes, then signs and losses, looks, and last a sign-off counts.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::facts::Opening;
use super::member::{Member, Why};
use super::moment::{Change, Numbered, Stock, Tank, Vessel};
use super::standing::{Kept, Standing};
use super::unit::Unit;
use super::view::{RoomView, SignOffs};
use crate::clubs::Rule;
use crate::rooms::{StockState, Turn};
use crate::streams::{At, Days, OpId, StockId};

/// What the clock says of a room.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Reading {
    /// All units, the earliest due first.
    pub units: Vec<Unit>,
    /// Stock that came neither by a parcel nor from outside, and until when it may not leave; those only that wait.
    pub waits: BTreeMap<StockId, At>,
    /// Entries of emptied tanks that change nothing, since the water is shared or fish are in it.
    pub unemptied: Vec<OpId>,
}

/// Reads a room up to `now`.
pub fn read(room: &RoomView<'_>, now: At) -> Reading {
    Sweep::to(room, now).reading()
}

/// Whether these stocks could be signed off at an instant: they are a whole unit, its days are done, no treatment
/// runs, nobody forgot to look, and a steward has let pass whatever else is in the way (late and withdrawn entries
/// aside).
pub fn bears_out(room: &RoomView<'_>, members: &[StockId], at: At) -> bool {
    let mut sweep = Sweep::to(room, at);
    let named: BTreeSet<StockId> = members.iter().copied().collect();
    let named: Option<Vec<Stock>> = named.iter().map(|id| sweep.numbered.stock(*id)).collect();
    named.filter(|named| !named.is_empty()).is_some_and(|named| sweep.bears_out(&named, at))
}

/// Reads a room up to `now` and goes on, if it can, from what was kept of an earlier reading. Whoever keeps it has to
/// say from when on anything is otherwise than it was then.
pub fn read_on(room: &RoomView<'_>, now: At, kept: &mut Kept) -> Reading {
    // Where each sign-off is held against the records, what a steward let pass later changes what was.
    let SignOffs::Known(recalled) = room.signed else { return read(room, now) };
    let numbered = Numbered::of(room);
    let (mut after, standing) = kept.last(room, &numbered, recalled, now).unzip();
    let changes = numbered.changes(room, after, now);
    let mut sweep = Sweep::begin(room, now, numbered, standing);
    for moment in changes.chunk_by(|a, b| a.0 == b.0) {
        let at = moment[0].0;
        if let Some(last) = after
            && kept.wants(last, at, now)
        {
            kept.keep(last, sweep.is.clone());
        }
        sweep.pass(at, moment);
        after = Some(at);
    }
    if let Some(last) = after
        && kept.wants(last, At::LAST, now)
    {
        kept.keep(last, sweep.is.clone());
    }
    kept.done(sweep.numbered.clone(), recalled, now);
    sweep.reading()
}

impl<'a> Sweep<'a> {
    fn to(room: &'a RoomView<'a>, now: At) -> Self {
        let numbered = Numbered::of(room);
        let changes = numbered.changes(room, None, now);
        let mut sweep = Self::begin(room, now, numbered, None);
        for moment in changes.chunk_by(|a, b| a.0 == b.0) {
            sweep.pass(moment[0].0, moment);
        }
        sweep
    }

    fn begin(room: &'a RoomView<'a>, now: At, numbered: Numbered, standing: Option<Standing>) -> Self {
        let new = || Standing::new(&numbered, longest(room, |rule| rule.water_days));
        let mut is = standing.unwrap_or_else(new);
        is.grow(room, &numbered);
        Self {
            room,
            now,
            states: room.stocks.values().copied().collect(),
            turns: room.stocks.values().map(|stock| stock.turns.as_slice()).collect(),
            longest_wait: longest(room, |rule| rule.min_days),
            numbered,
            is,
        }
    }
}

/// The room while its records are read.
pub(super) struct Sweep<'a> {
    pub(super) room: &'a RoomView<'a>,
    pub(super) now: At,
    pub(super) numbered: Numbered,
    pub(super) states: Vec<&'a StockState>,
    /// The turns of each stock.
    pub(super) turns: Vec<&'a [Turn]>,
    /// The longest that any rule here has fish wait.
    pub(super) longest_wait: Days,
    /// How everything stands so far.
    pub(super) is: Standing,
}

impl Sweep<'_> {
    fn pass(&mut self, at: At, moment: &[(At, Change)]) {
        // Most of a record is about home fish, and moves nothing.
        match moment {
            [(_, Change::Turned(stock, _, false))] if !self.is_of_members(*stock) => return,
            [(_, Change::Looked(_))] => return self.look(at, moment),
            _ => {}
        }
        let mut touched: Vec<Tank> = Vec::new();
        self.before(at, moment, &mut touched);
        self.made(moment);
        self.hand_on(at, moment);
        for (_, change) in moment {
            match *change {
                Change::Split(from, into) | Change::Joined(from, into, _) => {
                    touched.extend(self.is.waters.tanks(from).chain(self.is.waters.tanks(into)));
                }
                Change::Entered(stock, stay, place) => {
                    self.is.waters.enter(stock, place);
                    if place.is_some() && self.is_in_bag(stock) {
                        let stay = &self.states[stock].stays[stay];
                        self.open(stock, at, stay.by, stay.doubtful);
                    }
                    touched.extend(place);
                }
                _ => {}
            }
        }
        self.mix(at, &touched);
        self.loose(at, moment);
        self.tell(at, moment);
        self.look(at, moment);
        self.after(at, moment);
        for (_, change) in moment {
            if let Change::Signed(i) = *change {
                self.sign(i);
            }
        }
    }

    /// What comes first in an instant: clubs, emptied vessels, and what parts waters.
    fn before(&mut self, at: At, moment: &[(At, Change)], touched: &mut Vec<Tank>) {
        let mut parted: Vec<Tank> = Vec::new();
        for (_, change) in moment {
            match *change {
                Change::Club(club) => {
                    for stock in 0..self.is.members.len() {
                        let Some(openings) = self.is.members[stock].as_ref().map(|m| m.openings().collect())
                        else {
                            continue;
                        };
                        let openings: Vec<Opening> = openings;
                        for opening in openings {
                            let rule = Arc::new(self.room.facts.rule_under(club, opening));
                            let days = self.days(&rule, stock);
                            if let Some(member) = &mut self.is.members[stock] {
                                member.also_under(&rule, days);
                            }
                        }
                        touched.extend(self.is.waters.tanks(stock));
                    }
                }
                Change::Emptied(vessel, i) => self.empty(vessel, i),
                Change::Plumbed(tank, _) | Change::Hung(tank, _) | Change::Left(_, Some(tank)) => {
                    parted.push(tank);
                }
                Change::Piped(system, _) => parted.push(self.is.waters.sump(system)),
                Change::Split(stock, _) => parted.extend(self.is.waters.tanks(stock)),
                Change::Joined(from, into, _) => {
                    parted.extend(self.is.waters.tanks(from).chain(self.is.waters.tanks(into)));
                }
                _ => {}
            }
        }
        self.share(at, &parted);
        // What a water falls into is touched too: everything that is in it now.
        self.is.waters.look();
        let falls = self.is.waters.are_doubled() || moment.iter().any(|(_, change)| change.is_plumbing());
        for &tank in &parted {
            let Some(water) = self.is.waters.next(tank) else { continue };
            let tanks = &self.is.waters.shared(water).tanks;
            if falls || self.is.residues.are_in(tanks) {
                touched.extend(tanks);
            } else {
                touched.push(tank);
            }
        }
        self.is.residues.until(touched, at);
        for (_, change) in moment {
            match *change {
                Change::Plumbed(tank, system) => {
                    touched.push(tank);
                    touched.extend(system.map(|system| self.is.waters.sump(system)));
                    self.is.waters.plumb(tank, system);
                }
                Change::Hung(tank, host) => {
                    touched.push(tank);
                    touched.extend(host);
                    self.is.waters.hang(tank, host);
                }
                Change::Piped(system, other) => {
                    let both = other.into_iter().chain([system]);
                    touched.extend(both.map(|system| self.is.waters.sump(system)));
                    self.is.waters.pipe(system, other);
                }
                Change::Left(stock, place) => self.is.waters.leave(stock, place),
                Change::Came(stock) => self.is.sealed[stock] = true,
                _ => {}
            }
        }
    }

    /// A tank or system is emptied; it counts only where nothing shares its water and no fish are in it.
    fn empty(&mut self, vessel: Vessel, i: usize) {
        let (room, numbered) = (self.room, &self.numbered);
        let (op, counts, tanks) = match vessel {
            Vessel::Tank(tank) => {
                let state = room.tanks.get(&numbered.tanks[tank]);
                let op = state.and_then(|tank| tank.emptied.get(i)).map(|emptied| emptied.op);
                let counts = self.is.waters.stands_alone(tank) && self.is.waters.inside(tank).is_empty();
                (op, counts, vec![tank])
            }
            Vessel::System(system) => {
                let state = room.systems.get(&numbered.systems()[system]);
                let op = state.and_then(|system| system.emptied.get(i)).map(|emptied| emptied.op);
                let shared = self.is.waters.of_tank(self.is.waters.sump(system)).clone();
                let own = shared.tanks.iter().all(|tank| self.is.waters.belongs(*tank, system));
                (op, own && shared.stocks.is_empty(), shared.tanks)
            }
        };
        if counts {
            self.is.residues.clear(tanks);
        } else {
            self.is.unemptied.extend(op);
        }
    }

    /// Fish that were taken out of the water, or came out of none, and were put into none.
    fn loose(&mut self, at: At, moment: &[(At, Change)]) {
        for (_, change) in moment {
            let stock = match *change {
                Change::Left(stock, _) | Change::Entered(stock, ..) => stock,
                Change::Joined(_, stock, _) | Change::Split(_, stock) => stock,
                _ => continue,
            };
            self.out_of_water(stock, at);
        }
    }

    /// Where fish are in no tank's water any more, a treatment is over for them, and a bag is a water of its own.
    fn out_of_water(&mut self, stock: Stock, at: At) {
        if self.is.waters.tanks(stock).next().is_some() {
            return;
        }
        if let Some(member) = &mut self.is.members[stock]
            && std::mem::take(&mut member.under)
        {
            member.restart(at, Why::Treatment(None));
        }
        if self.is.waters.is_anywhere(stock) {
            self.is.company.bag(stock, at);
        } else {
            self.is.company.end(stock, at);
        }
    }

    /// Stays that are over after this instant.
    fn after(&mut self, at: At, moment: &[(At, Change)]) {
        let gone = moment.iter().filter_map(|(_, change)| match *change {
            Change::Gone(stock, place) => Some((stock, place)),
            _ => None,
        });
        if gone.clone().next().is_none() {
            return;
        }
        let tanks: Vec<Tank> = gone.clone().filter_map(|(_, place)| place).collect();
        self.share(at, &tanks);
        let mut touched = Vec::new();
        self.is.waters.look();
        for &tank in &tanks {
            if let Some(water) = self.is.waters.next(tank) {
                touched.extend(&self.is.waters.shared(water).tanks);
            }
        }
        self.is.company.stay_to_the_last(true);
        for (stock, place) in gone {
            self.is.waters.leave(stock, place);
            self.out_of_water(stock, at);
        }
        self.mix(at, &touched);
        self.is.company.stay_to_the_last(false);
    }

    pub(super) fn hold(&mut self, stock: Stock, member: Member) {
        self.is.waters.mark(stock, true);
        self.is.held.insert(stock);
        self.is.members[stock] = Some(Box::new(member));
    }
}

/// The most that any rule here says of a number of days.
fn longest(room: &RoomView<'_>, days: impl Fn(&Rule) -> Days) -> Days {
    let own = room.facts.own.iter().filter_map(|own| own.rule.as_ref());
    let rules = room.facts.rules.iter().map(|adopted| &adopted.rule).chain(own);
    rules.map(&days).fold(days(&Rule::shipped()), Days::max)
}
