//! The slow reading's waters: who was in which water at an instant, looked up from the states and put together pair by
//! pair. Keeps nothing.

use std::collections::BTreeSet;

use tarn_domain::quarantine::RoomView;
use tarn_domain::rooms::{Came, Stay, StockState};
use tarn_domain::streams::{At, StockId, SystemId, TankId};

/// A tank, or a system's sump.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Node {
    Tank(TankId),
    Sump(SystemId),
}

/// Tanks, sumps and stocks that share water.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Water {
    pub nodes: BTreeSet<Node>,
    pub stocks: BTreeSet<StockId>,
}

/// At which side of an instant's changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// As things were just before it.
    Before,
    /// At it: stays of no length are there, and fish of which none were left at it.
    Within,
    /// From it on.
    After,
}

fn covers(from: At, until: Option<At>, at: At, side: Side) -> bool {
    match side {
        Side::Before => from < at && until.is_none_or(|until| until >= at),
        Side::Within | Side::After => from <= at && until.is_none_or(|until| until > at),
    }
}

/// Whether a stock is in a stay.
pub fn is_there(stock: &StockState, stay: &Stay, at: At, side: Side) -> bool {
    if covers(stay.from, stay.until, at, side) {
        return true;
    }
    let goes_on = || stock.stays.iter().any(|other| !other.doubtful && other.from == at);
    side == Side::Within
        && stay.until == Some(at)
        && stay.from <= at
        && (stay.from == at || (!stay.doubtful && !goes_on()))
}

/// Which tanks and systems have one water: every pair that is connected.
fn pairs(room: &RoomView<'_>, at: At, side: Side) -> Vec<(Node, Node)> {
    let mut all = Vec::new();
    for (id, tank) in &room.tanks {
        for p in tank.plumbing.iter().filter(|p| covers(p.from, p.until, at, side)) {
            all.extend(p.system.map(|system| (Node::Tank(*id), Node::Sump(system))));
        }
        for h in tank.hung.iter().filter(|h| covers(h.from, h.until, at, side)) {
            all.extend(h.with.map(|host| (Node::Tank(*id), Node::Tank(host))));
        }
    }
    for (id, system) in &room.systems {
        for j in system.joined.iter().filter(|j| covers(j.from, j.until, at, side)) {
            all.extend(j.with.map(|other| (Node::Sump(*id), Node::Sump(other))));
        }
    }
    all
}

/// All waters at an instant, a bag being one of its own.
pub fn waters(room: &RoomView<'_>, at: At, side: Side) -> Vec<Water> {
    let one = |node| Water { nodes: [node].into(), ..Water::default() };
    let tanks = room.tanks.keys().map(|id| one(Node::Tank(*id)));
    let mut all: Vec<Water> = tanks.chain(room.systems.keys().map(|id| one(Node::Sump(*id)))).collect();
    for (a, b) in pairs(room, at, side) {
        all.push(Water { nodes: [a, b].into(), ..Water::default() });
    }
    for (id, stock) in &room.stocks {
        let here: Vec<&Stay> = stock.stays.iter().filter(|stay| is_there(stock, stay, at, side)).collect();
        if !here.is_empty() {
            let nodes = here.iter().filter_map(|stay| stay.tank).map(Node::Tank).collect();
            all.push(Water { nodes, stocks: [*id].into() });
        }
    }
    let mut i = 0;
    while i < all.len() {
        match (i + 1..all.len()).find(|j| !all[i].nodes.is_disjoint(&all[*j].nodes)) {
            Some(j) => {
                let other = all.remove(j);
                all[i].nodes.extend(other.nodes);
                all[i].stocks.extend(other.stocks);
            }
            None => i += 1,
        }
    }
    all.sort();
    all
}

/// The water that a stock is in.
pub fn water_of(waters: &[Water], stock: StockId) -> Option<&Water> {
    waters.iter().find(|water| water.stocks.contains(&stock))
}

/// Which stocks the fish that are a stock now were among at an instant, before they were split off or put together.
pub fn were(room: &RoomView<'_>, stock: StockId, (at, now): (At, At)) -> BTreeSet<StockId> {
    // Of which stock, up to when.
    let mut all: BTreeSet<(StockId, At)> = [(stock, now)].into();
    loop {
        let earlier: Vec<_> = all.iter().flat_map(|(id, until)| came_of(room, *id, (at, *until))).collect();
        let before = all.len();
        all.extend(earlier);
        if all.len() == before {
            return all.into_iter().map(|(stock, _)| stock).collect();
        }
    }
}

fn came_of(room: &RoomView<'_>, stock: StockId, (at, until): (At, At)) -> Vec<(StockId, At)> {
    let Some(state) = room.stocks.get(&stock) else { return Vec::new() };
    let split = match &state.came {
        Some(Came::Split { of }) => state.since.map(|since| (since, *of)),
        _ => None,
    };
    let all = split.into_iter().chain(state.joined.iter().copied());
    all.filter(|(when, _)| *when > at && *when <= until).map(|(when, from)| (from, when)).collect()
}

impl Node {
    /// The tank; none: a sump.
    pub fn tank(self) -> Option<TankId> {
        match self {
            Self::Tank(tank) => Some(tank),
            Self::Sump(_) => None,
        }
    }
}
