//! The units of a room, and a steward's desk over all rooms of their clubs.

use std::collections::BTreeSet;

use tarn_domain::quarantine::{RoomFacts, Unit, UnitState, units};
use tarn_domain::state::{Memory, RoomStates, view};
use tarn_domain::streams::{AccountId, At, ClubId, Entity, StockId, StreamId, UnitId};

use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result};
use crate::quarantine::store;
use crate::rooms;
use crate::streams::{Held, room};

/// A room's units, and the state they were computed from.
pub struct RoomUnits {
    /// Which room.
    pub room: StreamId,
    /// What it is called.
    pub name: String,
    /// The units, the earliest due first.
    pub units: Vec<Unit>,
    /// The room's home clubs over the time of each unit, in the same order.
    pub clubs: Vec<Vec<ClubId>>,
    /// The head they are of.
    pub head: u64,
    /// The room, held.
    pub held: Held,
}

/// What the clock is computed from, out of memory.
pub(super) fn compute(memory: &Memory, now: At) -> (Vec<Unit>, Vec<Vec<ClubId>>) {
    let states: RoomStates<'_> = view(memory.states());
    let empty = RoomFacts::default();
    let all = units(&states.for_quarantine(&empty), now);
    let facts = states.facts.unwrap_or(&empty);
    let clubs = all.iter().map(|unit| facts.clubs_between(opened(unit), now)).collect();
    (all, clubs)
}

/// When the first of a unit's members was opened.
fn opened(unit: &Unit) -> At {
    unit.members.iter().map(|m| m.since).min().unwrap_or(At::from_seconds(0))
}

/// Until when a stock is held: none if it is free, none inside if no day can be told.
pub fn held_until(memory: &Memory, stock: StockId, now: At) -> Option<Option<At>> {
    let (all, _) = compute(memory, now);
    let unit = all.iter().find(|unit| unit.members.iter().any(|m| m.stock == stock))?;
    Some(unit.due.filter(|_| unit.state != UnitState::InTheBag))
}

/// A room's units at the server's time.
pub async fn room_units(ctx: &Ctx, id: StreamId) -> Result<RoomUnits> {
    let row = rooms::store::room(&ctx.db.conn, id).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let (held, stream) = room(ctx, id).await?;
    let now = At::from_seconds(ctx.clock.now_ms().div_euclid(1000));
    let (units, clubs) = compute(&held.memory, now);
    Ok(RoomUnits { room: id, name: row.name, units, clubs, head: stream.head, held })
}

/// Who looks at a unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Looked {
    /// A keeper of the room.
    Keeper,
    /// A steward of one of its clubs.
    Steward,
}

/// One unit of a room, for its keeper or a steward of its clubs.
///
/// # Errors
/// `not-found` for everybody else, and for a unit that is no longer there.
pub async fn unit_for(
    ctx: &Ctx,
    account: AccountId,
    id: StreamId,
    unit: UnitId,
) -> Result<(RoomUnits, usize, Looked)> {
    let nothing = || Problem::new(&NOT_FOUND);
    let keeper = rooms::store::is_keeper(&ctx.db.conn, id, account).await?;
    let stewarded = store::steward_of(&ctx.db.conn, account).await?;
    if !keeper && stewarded.is_empty() {
        return Err(nothing());
    }
    let all = room_units(ctx, id).await?;
    let at = all.units.iter().position(|u| u.id == unit).ok_or_else(nothing)?;
    if keeper {
        return Ok((all, at, Looked::Keeper));
    }
    if all.clubs[at].iter().any(|club| stewarded.contains(club)) {
        return Ok((all, at, Looked::Steward));
    }
    Err(nothing())
}

/// All rooms of a steward's clubs that have units, and for a keeper their own.
pub async fn desk(ctx: &Ctx, account: AccountId, only: Option<StreamId>) -> Result<Vec<(RoomUnits, Looked)>> {
    let own: BTreeSet<StreamId> =
        rooms::store::rooms_of(&ctx.db.conn, account).await?.iter().map(|r| StreamId(r.stream)).collect();
    let mut ids = own.clone();
    for club in store::steward_of(&ctx.db.conn, account).await? {
        ids.extend(rooms::store::rooms_of_club(&ctx.db.conn, club).await?.iter().map(|r| StreamId(r.stream)));
    }
    ids.retain(|id| only.is_none_or(|only| only == *id));
    let mut all = Vec::new();
    for id in ids {
        let looked = if own.contains(&id) { Looked::Keeper } else { Looked::Steward };
        let units = room_units(ctx, id).await?;
        if !units.units.is_empty() {
            all.push((units, looked));
        }
    }
    Ok(all)
}

impl RoomUnits {
    /// The greatest number of any op that touches a unit: its stocks, their tanks, the logs about them, and
    /// whatever takes one of these back.
    pub fn last_touch(&self, unit: &Unit) -> u64 {
        let memory = &self.held.memory;
        let mut things: BTreeSet<Entity> = BTreeSet::new();
        for member in &unit.members {
            things.insert(member.stock.into());
            let stock = view(memory.states().into_iter().filter(|(e, _)| e.id == member.stock.0));
            let tank = stock.stocks.get(&member.stock).and_then(|s| s.place()).flatten();
            things.extend(tank.map(Entity::from));
        }
        let told = things.iter().flat_map(|thing| memory.touching(*thing).chain(memory.logging(*thing)));
        let seqs = told.flat_map(|entry| {
            let taken_back = memory.taking_back(entry.linked.order.id).map(|back| back.seq);
            taken_back.chain([entry.seq])
        });
        seqs.max().unwrap_or(0)
    }
}
