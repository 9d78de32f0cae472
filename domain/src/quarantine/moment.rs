//! What a room's records say happened at each instant, in the order in which it counts within one. Must not judge.

use std::collections::BTreeMap;

use super::clock::RoomView;
use crate::rooms::{Came, Place, StockState};
use crate::streams::{At, ClubId, StockId, SystemId, TankId};

/// All that happened at one instant.
#[derive(Debug, Default)]
pub(super) struct Moment {
    /// Clubs that the room came to.
    pub clubs: Vec<ClubId>,
    /// Tanks that joined a system's water, or left one.
    pub plumbed: Vec<(TankId, Option<SystemId>)>,
    /// Stays that ended because the fish were moved.
    pub left: Vec<(StockId, Place)>,
    /// Stocks that came in from outside.
    pub came: Vec<StockId>,
    /// Fish of one stock that became another: (of which, which).
    pub split: Vec<(StockId, StockId)>,
    /// Fish that joined another stock: (of which, which).
    pub joined: Vec<(StockId, StockId)>,
    /// Stays that began, and whether they are doubtful.
    pub entered: Vec<(StockId, Place, bool)>,
    /// Stays that ended because none were left, or that had no length: they are over after this instant.
    pub gone: Vec<(StockId, Place)>,
    /// Sign-offs, by their place in the room's facts.
    pub signed: Vec<usize>,
}

/// Whether fish came in from outside the room.
pub(super) fn came_in(stock: &StockState) -> bool {
    matches!(stock.came, Some(Came::In { .. } | Came::Parcel { .. }))
}

/// All instants up to now at which anything happened.
pub(super) fn moments(room: &RoomView<'_>, now: At) -> BTreeMap<At, Moment> {
    let mut all: BTreeMap<At, Moment> = BTreeMap::new();
    let mut at = |at: At, change: &mut dyn FnMut(&mut Moment)| {
        if at <= now {
            change(all.entry(at).or_default());
        }
    };
    for &(from, club) in &room.facts.home {
        at(from, &mut |m| m.clubs.extend(club));
    }
    for (&id, tank) in &room.tanks {
        // Plumbing of no length shares no water.
        for p in tank.plumbing.iter().filter(|p| p.until != Some(p.from)) {
            at(p.from, &mut |m| m.plumbed.push((id, p.system)));
        }
    }
    for (&id, stock) in &room.stocks {
        let Some(since) = stock.since else { continue };
        match stock.came {
            Some(Came::Split { of }) => at(since, &mut |m| m.split.push((of, id))),
            _ if came_in(stock) => at(since, &mut |m| m.came.push(id)),
            _ => {}
        }
        for &(when, from) in &stock.joined {
            at(when, &mut |m| m.joined.push((from, id)));
        }
        for stay in &stock.stays {
            at(stay.from, &mut |m| m.entered.push((id, stay.tank, stay.doubtful)));
            let Some(until) = stay.until else { continue };
            let lasts = until == stay.from || (!stay.doubtful && !goes_on(stock, until));
            at(until, &mut |m| if lasts { &mut m.gone } else { &mut m.left }.push((id, stay.tank)));
        }
    }
    for (i, signed) in room.facts.signed.iter().enumerate() {
        at(signed.at, &mut |m| m.signed.push(i));
    }
    all
}

/// Whether the fish were elsewhere from this instant on: else none were left.
fn goes_on(stock: &StockState, at: At) -> bool {
    stock.stays.iter().any(|stay| stay.from == at && !stay.doubtful)
}
