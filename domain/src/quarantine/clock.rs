//! The clock: who shares water with whom when, and when a unit's days are done. A function of the room's records, of
//! when they were received, and of now.
//!
//! One sweep over the instants at which anything happened. Within an instant: emptied, splits and merges, openings,
//! then the water mixes, then signs and losses, looks, and last a sign-off counts.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use uuid::Uuid;

use super::company::Company;
use super::facts::Opening;
use super::losses::Loss;
use super::member::{Cause, Member, Run, Why};
use super::moment::{Change, Numbered, Stock, Tank, Vessel, came_in};
use super::residue::Residues;
use super::taint::Taint;
use super::unit::Unit;
use super::view::RoomView;
use super::water::Waters;
use crate::rooms::{Came, StockState};
use crate::streams::{At, Days, OpId, StockId};

/// What the clock says of a room.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Reading {
    /// All units, the earliest due first.
    pub units: Vec<Unit>,
    /// Stock that came neither by a parcel nor from outside, and until when it may not leave.
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

impl<'a> Sweep<'a> {
    fn to(room: &'a RoomView<'a>, now: At) -> Self {
        let numbered = Numbered::of(room);
        let changes = numbered.changes(room, now);
        let (n, (tanks, systems)) = (numbered.stocks.len(), numbered.waters());
        let mut sweep = Self {
            room,
            now,
            states: room.stocks.values().copied().collect(),
            waters: Waters::new(n, (tanks, systems)),
            numbered,
            residues: Residues::new(tanks + systems),
            company: Company::new(n),
            sealed: vec![false; n],
            doubted: vec![false; n],
            members: vec![None; n],
            held: 0,
            anchors: vec![0; tanks + systems],
            totals: vec![0; n],
            losses: vec![Vec::new(); n],
            born: vec![None; n],
            waits: vec![None; n],
            recalled: vec![None; n],
            signatures: Vec::new(),
            unemptied: Vec::new(),
        };
        for moment in changes.chunk_by(|a, b| a.0 == b.0) {
            sweep.pass(moment[0].0, moment);
        }
        sweep
    }
}

/// The room while its records are read.
pub(super) struct Sweep<'a> {
    pub(super) room: &'a RoomView<'a>,
    pub(super) now: At,
    pub(super) numbered: Numbered,
    pub(super) states: Vec<&'a StockState>,
    pub(super) waters: Waters,
    pub(super) residues: Residues,
    pub(super) company: Company,
    /// Fish from outside that never were in water here: bags not opened, and parts of them.
    pub(super) sealed: Vec<bool>,
    /// Bags that may have been opened.
    pub(super) doubted: Vec<bool>,
    pub(super) members: Vec<Option<Member>>,
    /// How many members there are.
    pub(super) held: usize,
    /// How many treatments run in each tank or sump.
    pub(super) anchors: Vec<u32>,
    pub(super) totals: Vec<i64>,
    pub(super) losses: Vec<Vec<Loss>>,
    /// When stocks were born here.
    pub(super) born: Vec<Option<At>>,
    pub(super) waits: Vec<Option<At>>,
    /// The sign-off that was recalled of a stock.
    pub(super) recalled: Vec<Option<OpId>>,
    /// Sign-offs that count so far, by their place in the room's facts, with their stocks.
    pub(super) signatures: Vec<(usize, Vec<Stock>)>,
    pub(super) unemptied: Vec<OpId>,
}

impl Sweep<'_> {
    fn pass(&mut self, at: At, moment: &[(At, Change)]) {
        let mut touched: Vec<Tank> = Vec::new();
        self.before(at, moment, &mut touched);
        self.made(moment);
        self.hand_on(at, moment);
        for (_, change) in moment {
            match *change {
                Change::Joined(from, into, _) => {
                    touched.extend(self.waters.tanks(from).chain(self.waters.tanks(into)));
                }
                Change::Entered(stock, stay) => {
                    let stay = &self.states[stock].stays[stay];
                    let place = stay.tank.and_then(|tank| self.numbered.tank(tank));
                    self.waters.enter(stock, place);
                    if place.is_some() {
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
                    for stock in 0..self.members.len() {
                        if let Some(member) = &mut self.members[stock] {
                            let rule = Arc::new(self.room.facts.rule_under(club, member.opened));
                            let days = days(&rule, self.states[stock]);
                            member.also_under(&rule, days);
                            touched.extend(self.waters.tanks(stock));
                        }
                    }
                }
                Change::Emptied(vessel, i) => self.empty(vessel, i),
                Change::Plumbed(tank, _) | Change::Hung(tank, _) | Change::Left(_, Some(tank)) => {
                    parted.push(tank);
                }
                Change::Piped(system, _) => parted.push(self.waters.sump(system)),
                _ => {}
            }
        }
        self.share(at, &parted);
        // What a water falls into is touched too: everything that is in it now.
        if self.held > 0 || !self.residues.is_none(at) {
            self.waters.look();
            for &tank in &parted {
                if self.is_hot(tank, at) {
                    touched.extend(self.waters.sharing(tank).unwrap_or_default().tanks);
                }
            }
        }
        for (_, change) in moment {
            match *change {
                Change::Plumbed(tank, system) => {
                    touched.push(tank);
                    touched.extend(system.map(|system| self.waters.sump(system)));
                    self.waters.plumb(tank, system);
                }
                Change::Hung(tank, host) => {
                    touched.push(tank);
                    touched.extend(host);
                    self.waters.hang(tank, host);
                }
                Change::Piped(system, other) => {
                    let both = other.into_iter().chain([system]);
                    touched.extend(both.map(|system| self.waters.sump(system)));
                    self.waters.pipe(system, other);
                }
                Change::Left(stock, place) => self.waters.leave(stock, place),
                Change::Came(stock) => self.sealed[stock] = true,
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
                let counts = self.waters.stands_alone(tank) && self.waters.inside(tank).is_empty();
                (op, counts, vec![tank])
            }
            Vessel::System(system) => {
                let state = room.systems.get(&numbered.systems()[system]);
                let op = state.and_then(|system| system.emptied.get(i)).map(|emptied| emptied.op);
                let shared = self.waters.of_tank(self.waters.sump(system));
                (op, self.waters.runs_alone(system) && shared.stocks.is_empty(), shared.tanks)
            }
        };
        if counts {
            self.residues.clear(tanks);
        } else {
            self.unemptied.extend(op);
        }
    }

    /// Fish that were taken out of the water and put into none.
    fn loose(&mut self, at: At, moment: &[(At, Change)]) {
        for (_, change) in moment {
            let Change::Left(stock, _) = *change else { continue };
            if self.waters.tanks(stock).next().is_some() {
                continue;
            }
            if let Some(member) = &mut self.members[stock] {
                if std::mem::take(&mut member.under) {
                    member.restart(at, Why::Treatment(None));
                }
                self.company.end(stock, at);
            }
        }
    }

    /// Stays that are over after this instant.
    fn after(&mut self, at: At, moment: &[(At, Change)]) {
        let gone = moment.iter().filter_map(|(_, change)| match *change {
            Change::Gone(stock, place) => Some((stock, place)),
            _ => None,
        });
        let tanks: Vec<Tank> = gone.clone().filter_map(|(_, place)| place).collect();
        self.share(at, &tanks);
        let mut touched = Vec::new();
        if self.held > 0 {
            self.waters.look();
            for &tank in &tanks {
                if self.is_hot(tank, at) {
                    touched.extend(self.waters.sharing(tank).unwrap_or_default().tanks);
                }
            }
        }
        for (stock, place) in gone {
            self.waters.leave(stock, place);
            if self.waters.tanks(stock).next().is_none() && self.members[stock].is_some() {
                self.company.end(stock, at);
            }
        }
        self.mix(at, &touched);
    }

    pub(super) fn hold(&mut self, stock: Stock, member: Member) {
        self.held += usize::from(self.members[stock].is_none());
        self.members[stock] = Some(member);
    }

    /// A bag's clock starts when its fish first go into water here. Where they only may have, they are held from
    /// then, but the clock starts again when they surely did.
    pub(super) fn open(&mut self, stock: Stock, at: At, by: OpId, doubtful: bool) {
        let was_sealed = std::mem::take(&mut self.sealed[stock]);
        self.doubted[stock] |= was_sealed && doubtful;
        let sure = !doubtful && std::mem::take(&mut self.doubted[stock]);
        if !was_sealed && !sure {
            return;
        }
        let opened = Opening::of(at, (self.room.received)(by));
        let rule = Arc::new(self.room.facts.rule_for(opened, at));
        let days = days(&rule, self.states[stock]);
        let cause = Cause::Introduced;
        let why = Why::Arrived(self.numbered.stocks[stock]);
        if let Some(member) = &mut self.members[stock] {
            (member.cause, member.opened) = (cause, opened);
            member.restart(at, why);
            member.also_under(&rule, days);
            return;
        }
        let (id, opened_by) = (self.numbered.stocks[stock], self.maker(stock));
        let new = Member {
            stock: id,
            cause,
            opened_by,
            since: at,
            start: at,
            days,
            due: at.plus(days),
            runs: vec![Run { start: at, why }],
            opened,
            rule,
            last_look: at,
            taint: Taint::default(),
            under: false,
        };
        self.hold(stock, new);
    }

    pub(super) fn maker(&self, stock: Stock) -> OpId {
        self.states[stock].made.unwrap_or(OpId(Uuid::nil()))
    }

    /// Whether fish of a stock were put where they are at this instant as test companions.
    pub(super) fn is_companion(&self, stock: Stock, at: At) -> bool {
        self.states[stock].stays.iter().any(|stay| stay.companion && stay.from == at)
    }

    /// Young are born into the water they are found in; they never met it.
    pub(super) fn is_born(&self, stock: Stock, at: At) -> bool {
        let state = self.states[stock];
        matches!(state.came, Some(Came::Born { .. })) && state.since == Some(at)
    }
}

/// How long a rule holds these fish.
pub(super) fn days(rule: &crate::clubs::Rule, stock: &StockState) -> Days {
    let from = match &stock.came {
        Some(Came::In { from }) => Some(from.word()),
        Some(Came::Parcel { .. }) => Some("parcel"),
        _ => None,
    };
    let from = from.filter(|_| came_in(stock));
    rule.days_for(from, stock.species.as_deref())
}
