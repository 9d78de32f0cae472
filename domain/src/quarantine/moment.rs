//! What a room's records say happened, in the order of time, and within an instant in the order in which it counts.
//! Must not judge.

use std::collections::BTreeSet;

use super::clock::RoomView;
use crate::rooms::{Came, StockState};
use crate::streams::{At, ClubId, StockId, SystemId, TankId};

/// Stocks, tanks and systems by number, so that a long record is read quickly.
pub(super) struct Numbered {
    /// The stocks.
    pub stocks: Vec<StockId>,
    tanks: Vec<TankId>,
    systems: Vec<SystemId>,
}

/// A stock's number.
pub(super) type Stock = usize;
/// A tank's number.
pub(super) type Tank = usize;
/// A system's number.
pub(super) type System = usize;

/// One thing that happened. The order of the variants is their order within an instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Change {
    /// The room came to a club.
    Club(ClubId),
    /// A tank joined a system's water, or left one.
    Plumbed(Tank, Option<System>),
    /// A stay ended because the fish were moved.
    Left(Stock, Option<Tank>),
    /// A stock came in from outside.
    Came(Stock),
    /// Fish of one stock became another: of which, which.
    Split(Stock, Stock),
    /// Fish joined another stock: of which, which.
    Joined(Stock, Stock),
    /// A stay began; whether it is doubtful.
    Entered(Stock, Option<Tank>, bool),
    /// A stay ended because none were left, or had no length: it is over after this instant.
    Gone(Stock, Option<Tank>),
    /// A sign-off, by its place in the room's facts.
    Signed(usize),
}

/// Whether fish came in from outside the room.
pub(super) fn came_in(stock: &StockState) -> bool {
    matches!(stock.came, Some(Came::In { .. } | Came::Parcel { .. }))
}

impl Numbered {
    /// Numbers everything in a room.
    pub fn of(room: &RoomView<'_>) -> Self {
        let stays = room.stocks.values().flat_map(|stock| &stock.stays).filter_map(|stay| stay.tank);
        let tanks: BTreeSet<TankId> = room.tanks.keys().copied().chain(stays).collect();
        let plumbing = room.tanks.values().flat_map(|tank| &tank.plumbing).filter_map(|p| p.system);
        let systems: BTreeSet<SystemId> = plumbing.collect();
        Self {
            stocks: room.stocks.keys().copied().collect(),
            tanks: tanks.into_iter().collect(),
            systems: systems.into_iter().collect(),
        }
    }

    /// How many tanks and systems there are.
    pub fn waters(&self) -> (usize, usize) {
        (self.tanks.len(), self.systems.len())
    }

    /// A stock's number.
    pub fn stock(&self, id: StockId) -> Option<Stock> {
        self.stocks.binary_search(&id).ok()
    }

    fn tank(&self, id: TankId) -> Option<Tank> {
        self.tanks.binary_search(&id).ok()
    }

    fn system(&self, id: SystemId) -> Option<System> {
        self.systems.binary_search(&id).ok()
    }

    /// All that happened up to now.
    pub fn changes(&self, room: &RoomView<'_>, now: At) -> Vec<(At, Change)> {
        let mut all = Vec::new();
        all.extend(room.facts.home.iter().filter_map(|&(at, club)| Some((at, Change::Club(club?)))));
        all.extend(room.facts.signed.iter().enumerate().map(|(i, s)| (s.at, Change::Signed(i))));
        for (&id, tank) in &room.tanks {
            let Some(tank_no) = self.tank(id) else { continue };
            // Plumbing of no length shares no water.
            let lasting = tank.plumbing.iter().filter(|p| p.until != Some(p.from));
            let system = |id: Option<SystemId>| id.and_then(|id| self.system(id));
            all.extend(lasting.map(|p| (p.from, Change::Plumbed(tank_no, system(p.system)))));
        }
        for (no, (_, stock)) in room.stocks.iter().enumerate() {
            self.of_stock(no, stock, &mut all);
        }
        all.retain(|(at, _)| *at <= now);
        all.sort_unstable();
        all
    }

    fn of_stock(&self, no: Stock, stock: &StockState, all: &mut Vec<(At, Change)>) {
        let Some(since) = stock.since else { return };
        match stock.came {
            Some(Came::Split { of }) => all.extend(self.stock(of).map(|of| (since, Change::Split(of, no)))),
            _ if came_in(stock) => all.push((since, Change::Came(no))),
            _ => {}
        }
        let joined = stock.joined.iter().filter_map(|&(at, from)| Some((at, self.stock(from)?)));
        all.extend(joined.map(|(at, from)| (at, Change::Joined(from, no))));
        // Sure stays follow each other in time.
        let sure = stock.stays.iter().filter(|stay| !stay.doubtful).map(|stay| stay.from);
        let begun: BTreeSet<At> = sure.collect();
        for stay in &stock.stays {
            let tank = stay.tank.and_then(|tank| self.tank(tank));
            all.push((stay.from, Change::Entered(no, tank, stay.doubtful)));
            let Some(until) = stay.until else { continue };
            // Elsewhere from that instant on, or none were left.
            let moved = stay.doubtful || begun.contains(&until);
            let lasts = until == stay.from || !moved;
            all.push((until, if lasts { Change::Gone(no, tank) } else { Change::Left(no, tank) }));
        }
    }
}
