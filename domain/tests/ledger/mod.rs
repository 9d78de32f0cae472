//! A room's ops as a test writes them, in days of spring, and what they fold to.

#![allow(dead_code, reason = "each test takes what it needs")]

use serde_json::{Value, json};
use tarn_domain::catalogue::{Op, Writer, read_accepted};
use tarn_domain::lineage::{BroodState, Groups};
use tarn_domain::parcels::ParcelState;
use tarn_domain::rooms::StockState;
use tarn_domain::state::{EntityState, Memory, view};
use tarn_domain::streams::{Acceptance, AccountId, At, Entity, NodeId, OpId, ParcelId, Received, StockId};
use uuid::Uuid;

/// The n-th thing.
pub fn id(n: u128) -> Uuid {
    Uuid::from_u128(0x0190_a1b2_0000_7000_8000_0000_0000_0000 | n)
}

/// The n-th day.
pub fn day(n: u32) -> At {
    At::from_seconds(1_772_352_000 + i64::from(n) * 86_400)
}

/// A stock.
pub fn stock(n: u128) -> StockId {
    StockId(id(n))
}

/// A lineage node.
pub fn node(n: u128) -> NodeId {
    NodeId(id(n))
}

/// Rows of one node by sex.
pub fn rows(of: u128, fish: &[(&str, u32)]) -> Value {
    fish.iter().map(|(sex, n)| json!({"node": id(of), "sex": sex, "n": n})).collect()
}

/// One side of parents: of which stocks and nodes so many, each with a weight or none with one.
pub fn side(of: &[(u128, Uuid, u32, Option<u32>)]) -> Value {
    let of: Vec<Value> = of
        .iter()
        .map(|(stock, node, n, weight)| {
            let mut one = json!({"stock": id(*stock), "node": node, "n": n});
            if let Some(weight) = weight {
                one["weight"] = json!(weight);
            }
            one
        })
        .collect();
    json!({"of": of, "draw": "many"})
}

/// The tank that every room has.
pub const TANK: u128 = 0xaaaa;

/// An op with how it was accepted.
pub type Entry = (Op, Option<Acceptance>);

/// A room.
#[derive(Default)]
pub struct Ledger {
    /// What its ops fold to.
    pub memory: Memory,
    /// Its ops, as they were written.
    pub ops: Vec<Entry>,
    /// Tells its ops from another room's.
    room: u128,
}

impl Ledger {
    /// A room with one tank.
    pub fn new() -> Self {
        Self::of(0)
    }

    /// One of several rooms.
    pub fn of(room: u128) -> Self {
        let mut ledger = Self { room, ..Self::default() };
        ledger.write(0, json!({"op": "tank.added", "tank": id(TANK), "name": "A1"}));
        ledger
    }

    /// Writes an op that happened on a day; each is written after the one before.
    pub fn write(&mut self, on: u32, body: Value) -> OpId {
        let n = self.ops.len() as u32 + 1;
        self.write_as(on, (1, n), body)
    }

    /// Writes an op on a device whose clock shows so much.
    pub fn write_as(&mut self, on: u32, (device, clock): (u128, u32), body: Value) -> OpId {
        let n = self.ops.len() + 1;
        let at = day(on);
        let op = json!({
            "id": id(0x1_0000 * (self.room + 1) + n as u128), "device": id(device), "at": at, "body": body,
            "clock": format!("2026-09-01T00:{:02}:{:02}.000Z/0000", clock / 60, clock % 60),
        });
        let op = read_accepted(op.clone()).unwrap_or_else(|e| panic!("{e}: {op}")).op;
        let decision = op.body.writer() == Writer::Decision;
        let (by, received) = (AccountId(id(9)).into(), Received(n as i64));
        let accepted = decision.then_some(Acceptance { by, received, decision });
        let id = op.id;
        self.ops.push((op.clone(), accepted));
        self.memory.add([(op, accepted, n as u64)]);
        id
    }

    /// Takes an op back.
    pub fn withdraw(&mut self, on: u32, op: OpId) -> OpId {
        self.write(on, json!({"op": "op.withdrawn", "entry": op}))
    }

    /// Fish that were here before the records: founders of their own node.
    pub fn established(&mut self, on: u32, stock: u128, of: u128, fish: &[(&str, u32)]) -> OpId {
        let founders = json!({"node": id(of), "origin": "bought", "related": "not_known"});
        let body = json!({"op": "stock.established", "stock": id(stock), "founders": founders,
            "rows": rows(of, fish), "tank": id(TANK)});
        self.write(on, body)
    }

    /// Some are lost.
    pub fn lost(&mut self, on: u32, stock: u128, of: u128, fish: &[(&str, u32)]) -> OpId {
        self.write(
            on,
            json!({"op": "stock.lost", "stock": id(stock), "rows": rows(of, fish), "cause": "unknown"}),
        )
    }

    /// Some are kept apart.
    pub fn split(&mut self, on: u32, (from, new): (u128, u128), of: u128, fish: &[(&str, u32)]) -> OpId {
        let body = json!({"op": "stock.split", "stock": id(from), "new": id(new), "rows": rows(of, fish)});
        self.write(on, body)
    }

    /// Some join another stock.
    pub fn merged(&mut self, on: u32, (from, into): (u128, u128), of: u128, fish: &[(&str, u32)]) -> OpId {
        let body = json!({"op": "stock.merged", "stock": id(from), "into": id(into), "rows": rows(of, fish)});
        self.write(on, body)
    }

    /// Some were counted.
    pub fn counted(&mut self, on: u32, stock: u128, of: u128, fish: &[(&str, u32)], all: bool) -> OpId {
        let body = json!({"op": "stock.counted", "stock": id(stock), "rows": rows(of, fish), "all": all});
        self.write(on, body)
    }

    /// Some of whom nothing was known turn out to be of a sex.
    pub fn sexed(&mut self, on: u32, stock: u128, of: u128, fish: &[(&str, u32)]) -> OpId {
        let row = |(sex, n): &(&str, u32)| json!({"node": id(of), "from": "unsexed", "to": sex, "n": n});
        let rows: Vec<Value> = fish.iter().map(row).collect();
        self.write(on, json!({"op": "stock.sexed", "stock": id(stock), "rows": rows}))
    }

    /// Young are found: a brood, and a stock of the same number. Each side is as [`side`] makes it, or null.
    pub fn young(&mut self, on: u32, brood: u128, sides: [Value; 2]) -> OpId {
        let mut body = json!({"op": "young.found", "brood": id(brood), "stock": id(brood), "code": "Y",
            "name": {"species": "Danio pallidus"}, "rows": rows(brood, &[("unsexed", 20)])});
        for (name, side) in ["sires", "dams"].into_iter().zip(sides) {
            if !side.is_null() {
                body[name] = side;
            }
        }
        self.write(on, body)
    }

    /// Which groups bred.
    pub fn groups(&self) -> Groups {
        groups(&self.memory)
    }

    /// A stock.
    pub fn stock(&self, n: u128) -> StockState {
        match self.state(stock(n).into()) {
            Some(EntityState::Stock(stock)) => (**stock).clone(),
            other => panic!("no stock: {other:?}"),
        }
    }

    /// A brood.
    pub fn brood(&self, n: u128) -> BroodState {
        match self.state(node(n).into()) {
            Some(EntityState::Brood(brood)) => (**brood).clone(),
            other => panic!("no brood: {other:?}"),
        }
    }

    /// This room's side of a parcel.
    pub fn parcel(&self, n: u128) -> ParcelState {
        match self.state(ParcelId(id(n)).into()) {
            Some(EntityState::Parcel(parcel)) => (**parcel).clone(),
            other => panic!("no parcel: {other:?}"),
        }
    }

    fn state(&self, of: Entity) -> Option<&EntityState> {
        self.memory.state(of).map(|state| &**state)
    }
}

/// Which groups bred, by a room in memory.
pub fn groups(memory: &Memory) -> Groups {
    let room = view(memory.states());
    Groups::of(&room.stocks, &room.broods)
}

/// The same ops in another order.
pub fn folded<'a>(ops: impl IntoIterator<Item = &'a Entry>) -> Memory {
    let mut memory = Memory::default();
    let numbered = |(n, (op, accepted)): (usize, &Entry)| (op.clone(), *accepted, n as u64 + 1);
    memory.add(ops.into_iter().enumerate().map(numbered));
    memory
}
