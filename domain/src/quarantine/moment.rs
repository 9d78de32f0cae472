//! What a room's records say happened, in the order of time, and within an instant in the order in which it counts.
//! Must not judge.

use std::collections::{BTreeSet, HashMap, HashSet};

use super::view::{Evidence, RoomView};
use crate::rooms::{Came, EmptiedAt, Sharing, StockState, TurnKind};
use crate::streams::{At, ClubId, StockId, SystemId, TankId};

/// Stocks, tanks and systems by number, so that a long record is read quickly. A system's sump is one more tank,
/// which is always on its system and holds no fish.
#[derive(Debug, Clone)]
pub(super) struct Numbered {
    /// The stocks.
    pub stocks: Vec<StockId>,
    pub tanks: Vec<TankId>,
    /// The numbers of the tanks, which are asked for at every stay.
    numbers: HashMap<TankId, Tank>,
    systems: Vec<SystemId>,
}

/// A stock's number.
pub(super) type Stock = usize;
/// A tank's number, or a sump's.
pub(super) type Tank = usize;
/// A system's number.
pub(super) type System = usize;

/// What was emptied.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Vessel {
    Tank(Tank),
    System(System),
}

/// One thing that happened. The order of the variants is their order within an instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Change {
    /// The room came to a club.
    Club(ClubId),
    /// All water is out; the how-manieth time of that vessel.
    Emptied(Vessel, usize),
    /// A tank joined a system's water, or left one.
    Plumbed(Tank, Option<System>),
    /// A box hangs in a tank, or no longer.
    Hung(Tank, Option<Tank>),
    /// A system shares another's water, or no longer.
    Piped(System, Option<System>),
    /// A stay ended because the fish were moved.
    Left(Stock, Option<Tank>),
    /// A stock came in from outside.
    Came(Stock),
    /// Fish of one stock became another: of which, which.
    Split(Stock, Stock),
    /// Fish joined another stock: of which, which, by which of its turns.
    Joined(Stock, Stock, usize),
    /// A stay began: of which stock, the how-manieth, and where.
    Entered(Stock, usize, Option<Tank>),
    /// A treatment began or ended, by its place in the view.
    Treated(usize, bool),
    /// A number changed: of which stock, the how-manieth turn, and whether there are fish since that have to wait.
    Turned(Stock, usize, bool),
    /// A sign or a restart by the keeper, by its place in the view.
    Told(usize),
    /// Somebody looked, by its place in the view.
    Looked(usize),
    /// A stay ended because none were left, or had no length: it is over after this instant.
    Gone(Stock, Option<Tank>),
    /// A sign-off, by its place in the room's facts.
    Signed(usize),
}

impl Change {
    /// Whether it changes which tanks share a water.
    pub fn is_plumbing(&self) -> bool {
        matches!(self, Self::Plumbed(..) | Self::Hung(..) | Self::Piped(..))
    }
}

impl Numbered {
    /// Numbers everything in a room.
    pub fn of(room: &RoomView<'_>) -> Self {
        let known: HashSet<TankId> = room.tanks.keys().copied().collect();
        let stays = room.stocks.values().flat_map(|stock| &stock.stays).filter_map(|stay| stay.tank);
        let stays = stays.filter(|tank| !known.contains(tank));
        let hosts = room.tanks.values().flat_map(|tank| &tank.hung).filter_map(|hung| hung.with);
        let mut tanks: Vec<TankId> = room.tanks.keys().copied().chain(stays).chain(hosts).collect();
        tanks.sort_unstable();
        tanks.dedup();
        let plumbing = room.tanks.values().flat_map(|tank| &tank.plumbing).filter_map(|p| p.system);
        let joined = room.systems.values().flat_map(|system| &system.joined).filter_map(|j| j.with);
        let systems = room.systems.keys().copied().chain(plumbing).chain(joined);
        let systems: BTreeSet<SystemId> = systems.collect();
        Self {
            stocks: room.stocks.keys().copied().collect(),
            numbers: tanks.iter().enumerate().map(|(no, id)| (*id, no)).collect(),
            tanks,
            systems: systems.into_iter().collect(),
        }
    }

    /// Whether all that had a number has the same here; there may be more stocks.
    pub fn goes_on(&self, old: &Self) -> bool {
        self.stocks.starts_with(&old.stocks) && self.tanks == old.tanks && self.systems == old.systems
    }

    /// How many tanks and systems there are.
    pub fn waters(&self) -> (usize, usize) {
        (self.tanks.len(), self.systems.len())
    }

    /// A stock's number.
    pub fn stock(&self, id: StockId) -> Option<Stock> {
        self.stocks.binary_search(&id).ok()
    }

    /// A tank's number.
    pub fn tank(&self, id: TankId) -> Option<Tank> {
        self.numbers.get(&id).copied()
    }

    /// The systems, in the order of their numbers.
    pub fn systems(&self) -> &[SystemId] {
        &self.systems
    }

    fn system(&self, id: SystemId) -> Option<System> {
        self.systems.binary_search(&id).ok()
    }

    /// The number of a system's sump.
    pub fn sump(&self, system: SystemId) -> Option<Tank> {
        Some(self.tanks.len() + self.system(system)?)
    }

    /// All that happened after an instant (none: ever) up to now.
    pub fn changes(&self, room: &RoomView<'_>, after: Option<At>, now: At) -> Vec<(At, Change)> {
        let mut all = Vec::new();
        all.extend(room.facts.home.iter().filter_map(|&(at, club)| Some((at, Change::Club(club?)))));
        all.extend(room.facts.signed.iter().enumerate().map(|(i, s)| (s.at, Change::Signed(i))));
        for (i, told) in room.evidence.iter().enumerate() {
            all.push(match told {
                Evidence::Sign { at, .. } | Evidence::Restart { at, .. } => (*at, Change::Told(i)),
                Evidence::Look { at, .. } => (*at, Change::Looked(i)),
            });
        }
        for (i, treatment) in room.treatments.values().enumerate() {
            all.extend(treatment.from.map(|at| (at, Change::Treated(i, true))));
            all.extend(treatment.until.map(|(at, _)| (at, Change::Treated(i, false))));
        }
        self.of_waters(room, &mut all);
        let is_young = |stock: &StockState| after.is_some_and(|after| stock.since.is_some_and(|s| s > after));
        let young: HashSet<StockId> =
            room.stocks.iter().filter(|(_, stock)| is_young(stock)).map(|(id, _)| *id).collect();
        for (no, (_, stock)) in room.stocks.iter().enumerate() {
            if after.is_none_or(|after| happened(stock, after, &young)) {
                self.of_stock(room, no, stock, &mut all);
            }
        }
        in_order(all, after, now)
    }

    fn of_waters(&self, room: &RoomView<'_>, all: &mut Vec<(At, Change)>) {
        for (&id, tank) in &room.tanks {
            let Some(no) = self.tank(id) else { continue };
            // Plumbing of no length shares no water.
            let lasting = tank.plumbing.iter().filter(|p| p.until != Some(p.from));
            let system = |id: Option<SystemId>| id.and_then(|id| self.system(id));
            all.extend(lasting.map(|p| (p.from, Change::Plumbed(no, system(p.system)))));
            let hosts = lasting_shares(&tank.hung).map(|h| (h.from, h.with.and_then(|id| self.tank(id))));
            all.extend(hosts.map(|(at, host)| (at, Change::Hung(no, host))));
            all.extend(emptied(&tank.emptied, Vessel::Tank(no)));
        }
        for (&id, system) in &room.systems {
            let Some(no) = self.system(id) else { continue };
            let others =
                lasting_shares(&system.joined).map(|j| (j.from, j.with.and_then(|id| self.system(id))));
            all.extend(others.map(|(at, other)| (at, Change::Piped(no, other))));
            all.extend(emptied(&system.emptied, Vessel::System(no)));
        }
    }

    fn of_stock(&self, room: &RoomView<'_>, no: Stock, stock: &StockState, all: &mut Vec<(At, Change)>) {
        let Some(since) = stock.since else { return };
        // Fish that were dated before those they came from are the same fish all the same.
        let there = |of: StockId| room.stocks.get(&of).and_then(|of| of.since);
        match stock.came {
            Some(Came::Split { of }) => {
                let when = there(of).map_or(since, |of| of.max(since));
                all.extend(self.stock(of).map(|of| (when, Change::Split(of, no))));
            }
            _ if stock.came_in() => all.push((since, Change::Came(no))),
            _ => {}
        }
        let is_part = matches!(stock.came, Some(Came::Split { .. }));
        let mut total = 0;
        for (i, turn) in stock.turns.iter().enumerate() {
            total += turn.change;
            let waits = match turn.kind {
                // those that came in have a clock, and a part waits as its whole does
                TurnKind::Made => !is_part && !stock.came_in(),
                TurnKind::Counted => turn.change > 0,
                // more went on than were there: a count would have found more
                TurnKind::Went => total < 0,
                _ => false,
            };
            if let TurnKind::Joined(from) = turn.kind {
                let when = there(from).map_or(turn.at, |from| from.max(turn.at));
                all.extend(self.stock(from).map(|from| (when, Change::Joined(from, no, i))));
            }
            all.push((turn.at, Change::Turned(no, i, waits)));
        }
        let begun = |at: At| stock.stays.iter().any(|stay| !stay.doubtful && stay.from == at);
        for (i, stay) in stock.stays.iter().enumerate() {
            let tank = stay.tank.and_then(|tank| self.tank(tank));
            all.push((stay.from, Change::Entered(no, i, tank)));
            let Some(until) = stay.until else { continue };
            // Elsewhere from that instant on, or none were left.
            let moved = stay.doubtful || begun(until);
            let lasts = until == stay.from || !moved;
            all.push((until, if lasts { Change::Gone(no, tank) } else { Change::Left(no, tank) }));
        }
    }
}

/// Whether anything happened to a stock after an instant; `young` were made after it.
fn happened(stock: &StockState, after: At, young: &HashSet<StockId>) -> bool {
    // Fish that are dated before those they came from come from them when those are there.
    let is_late = match &stock.came {
        Some(Came::Split { of }) => young.contains(of),
        _ => false,
    };
    is_late
        || stock.joined.iter().any(|(_, from)| young.contains(from))
        || stock.since.is_some_and(|since| since > after)
        || stock.turns.last().is_some_and(|turn| turn.at > after)
        || stock.stays.iter().any(|stay| stay.from > after || stay.until.is_some_and(|until| until > after))
}

/// Those after one instant and up to another, by time, then as they count within an instant.
fn in_order(all: Vec<(At, Change)>, after: Option<At>, now: At) -> Vec<(At, Change)> {
    // A long record is sorted by time alone, where little has to be moved; few things happen at one instant.
    let mut when: Vec<(At, usize)> = all
        .iter()
        .enumerate()
        .filter(|(_, (at, _))| *at <= now && after.is_none_or(|after| *at > after))
        .map(|(i, (at, _))| (*at, i))
        .collect();
    when.sort_unstable();
    let mut sorted: Vec<(At, Change)> = when.into_iter().map(|(_, i)| all[i]).collect();
    sorted.chunk_by_mut(|a, b| a.0 == b.0).filter(|moment| moment.len() > 1).for_each(<[_]>::sort_unstable);
    sorted
}

fn lasting_shares<Id>(all: &[Sharing<Id>]) -> impl Iterator<Item = &Sharing<Id>> {
    all.iter().filter(|share| share.until != Some(share.from))
}

fn emptied(all: &[EmptiedAt], vessel: Vessel) -> impl Iterator<Item = (At, Change)> + '_ {
    all.iter().enumerate().map(move |(i, emptied)| (emptied.at, Change::Emptied(vessel, i)))
}
