//! States at head, kept in memory and bounded in bytes. A throw-away cache: the row of the stream says whether
//! a state still is the stream's, by head and chain, so a transaction that was rolled back, a restore or another
//! process can't leave a wrong one.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use sea_orm::ConnectionTrait;
use tarn_domain::catalogue::read_accepted_text;
use tarn_domain::state::Memory;
use tarn_domain::streams::{Chain, EpochId, StreamId};
use tokio::sync::{Mutex as AsyncMutex, OwnedMutexGuard};

use super::history::{Row, stream};
use super::ops::between;
use crate::platform::{Ctx, Result, errors::NOT_FOUND, errors::Problem};

/// The most bytes of states that are kept, as [`Memory::weight`] estimates them.
const MOST_BYTES: usize = 192 * 1024 * 1024;
/// How many ops are read at once.
const PAGE: u64 = 5_000;

/// A stream's state in memory.
pub struct Room {
    /// The state.
    pub memory: Memory,
    /// The number of its last op.
    pub head: u64,
    /// The chain there.
    pub chain: Chain,
    /// Which stream it is.
    pub id: Option<StreamId>,
    epoch: Option<EpochId>,
}

/// The head of a room that holds ops of a transaction that has not ended well: no row ever has it.
pub const UNSAVED: u64 = u64::MAX;

impl Room {
    /// A room of which nothing is read yet.
    pub fn empty(id: Option<StreamId>) -> Self {
        Self { memory: Memory::default(), head: 0, chain: Chain::EMPTY, id, epoch: None }
    }
}

impl Default for Room {
    fn default() -> Self {
        Self::empty(None)
    }
}

/// A room that nobody else reads or changes while it is held.
pub type Held = OwnedMutexGuard<Room>;

/// The states of this process.
#[derive(Default)]
pub struct Cache {
    rooms: Mutex<HashMap<StreamId, Slot>>,
}

struct Slot {
    room: Arc<AsyncMutex<Room>>,
    weight: usize,
    used: u64,
}

impl Cache {
    /// Waits until nobody else holds the room.
    pub async fn hold(&self, stream: StreamId) -> Held {
        let room = {
            let mut rooms = self.rooms.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
            let now = rooms.values().map(|s| s.used).max().unwrap_or(0) + 1;
            let slot =
                rooms.entry(stream).or_insert_with(|| Slot { room: Arc::default(), weight: 0, used: now });
            slot.used = now;
            slot.room.clone()
        };
        let mut held = room.lock_owned().await;
        held.id = Some(stream);
        held
    }

    /// How many rooms are kept, and what they take.
    pub fn size(&self) -> (u64, u64) {
        let rooms = self.rooms.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        (rooms.len() as u64, rooms.values().map(|slot| slot.weight as u64).sum())
    }

    /// Notes how much a room takes, and lets go of those used longest ago if all take too much.
    pub fn weigh(&self, stream: StreamId, weight: usize) {
        let mut rooms = self.rooms.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        if let Some(slot) = rooms.get_mut(&stream) {
            slot.weight = weight;
        }
        while rooms.values().map(|s| s.weight).sum::<usize>() > MOST_BYTES {
            let oldest =
                rooms.iter().filter(|(id, _)| **id != stream).min_by_key(|(_, s)| s.used).map(|(id, _)| *id);
            match oldest {
                Some(id) => drop(rooms.remove(&id)),
                None => return,
            }
        }
    }
}

/// Brings a held room to the head its row names.
pub async fn bring_to_head(ctx: &Ctx, conn: &impl ConnectionTrait, room: &mut Room, row: &Row) -> Result<()> {
    if room.head == row.head && room.chain == row.chain {
        return Ok(());
    }
    if room.epoch != Some(row.epoch) || room.head > row.head {
        *room = Room::empty(room.id);
    }
    read_tail(conn, room, row).await?;
    if room.chain != row.chain {
        *room = Room::empty(room.id);
        read_tail(conn, room, row).await?;
    }
    if room.chain != row.chain {
        return Err(Problem::failed(
            "reading a stream",
            format!("the chain of {} does not fit its ops", row.id),
        ));
    }
    ctx.part::<Cache>().weigh(row.id, room.memory.weight());
    Ok(())
}

async fn read_tail(conn: &impl ConnectionTrait, room: &mut Room, row: &Row) -> Result<()> {
    room.epoch = Some(row.epoch);
    while room.head < row.head {
        let page = between(conn, row.id, room.head, row.head, PAGE).await?;
        let Some(last) = page.last().map(|op| op.seq) else { return Ok(()) };
        let mut ops = Vec::with_capacity(page.len());
        for stored in page {
            room.chain = room.chain.then(stored.op_text(), stored.accepted);
            let read = read_accepted_text(&stored.text).map_err(|e| Problem::failed("reading an op", e))?;
            ops.push((read.op, Some(stored.accepted), stored.seq));
        }
        room.memory.add(ops);
        room.head = last;
    }
    Ok(())
}

/// Reads what a room lacks of what its row told, before anybody locks that row.
pub async fn warm(ctx: &Ctx, row: &Row) -> Result<()> {
    since(ctx, row).await.map(drop)
}

/// The room as its row told a moment ago, or as it became since, held for reading.
///
/// # Errors
/// `not-found` if there is no such stream any more.
pub async fn since(ctx: &Ctx, row: &Row) -> Result<Held> {
    let held = ctx.part::<Cache>().hold(row.id).await;
    if held.epoch == Some(row.epoch) && held.head != UNSAVED && held.head >= row.head {
        return Ok(held);
    }
    drop(held);
    room(ctx, row.id).await.map(|(held, _)| held)
}

/// The room at head, held for reading.
///
/// # Errors
/// `not-found` if there is no such stream.
pub async fn room(ctx: &Ctx, id: StreamId) -> Result<(Held, Row)> {
    let mut held = ctx.part::<Cache>().hold(id).await;
    let row = stream(&ctx.db.conn, id).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    bring_to_head(ctx, &ctx.db.conn, &mut held, &row).await?;
    Ok((held, row))
}
