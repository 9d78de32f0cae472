//! Histories that no keeper would write but any could send: a few things, and ops about them at random, dated at
//! random, with makers twice or never, back-dated, taken back, resting on each other.

use serde_json::{Value, json};
use tarn_domain::catalogue::{Op, Writer, read_op, writer};
use tarn_domain::streams::{Acceptance, AccountId, Received};
use uuid::Uuid;

use crate::dice::Dice;

/// An op and how it was accepted.
pub type Accepted = (Op, Option<Acceptance>);

/// An id of version 7, which op ids are.
pub fn id(kind: u8, n: usize) -> Uuid {
    let n = u128::try_from(n).expect("small");
    Uuid::from_u128(0x0190_a000_0000_7000_8000_0000_0000_0000 | u128::from(kind) << 32 | n)
}

const DEVICE: u8 = 1;
/// Ids of this kind.
pub const OP: u8 = 2;
/// Ids of this kind.
pub const SYSTEM: u8 = 3;
/// Ids of this kind.
pub const TANK: u8 = 4;
/// Ids of this kind.
pub const STOCK: u8 = 5;
/// Ids of this kind.
pub const NODE: u8 = 6;
/// Ids of this kind.
pub const PARCEL: u8 = 7;
/// Ids of this kind.
pub const CLUB: u8 = 8;
/// Ids of this kind.
pub const TREATMENT: u8 = 11;
/// Ids of this kind.
pub const SPAWNING: u8 = 12;

/// Makes up histories.
pub struct Author {
    /// Its chance.
    pub dice: Dice,
    /// How many stocks, tanks, systems, broods there are to speak of.
    pub wide: usize,
    /// How many ops there will be.
    pub ops: usize,
    /// Much of it is about broods and parcels.
    pub kin: bool,
}

impl Author {
    /// One history's author.
    pub fn of(seed: u64) -> Self {
        let mut dice = Dice::of(seed);
        let wide = 1 + dice.below(4);
        let kin = dice.percent(40);
        Self { dice, wide, ops: 0, kin }
    }

    /// So many ops.
    pub fn history(&mut self, ops: usize) -> Vec<Accepted> {
        self.ops = ops;
        let mut all = Vec::with_capacity(ops);
        while all.len() < ops {
            let place = all.len();
            all.push(self.op(place));
            // Two that would only hold up each other.
            if self.dice.percent(2) && all.len() + 2 <= ops {
                let (a, b) = (self.one(STOCK), self.one(STOCK));
                for (from, new) in [(&a, &b), (&b, &a)] {
                    let rows = self.rows();
                    let body = json!({"op": "stock.split", "stock": from, "new": new, "rows": rows});
                    let op = self.envelope(all.len(), body);
                    all.push(op);
                }
            }
        }
        all
    }

    /// The op of a body.
    pub fn envelope(&mut self, place: usize, body: Value) -> Accepted {
        let at = self.dice.of_range(0..20);
        let clock = at + self.dice.of_range(0..6);
        let kind = body["op"].as_str().expect("a kind").to_owned();
        let text = json!({
            "id": id(OP, place),
            "device": id(DEVICE, self.dice.below(3)),
            "clock": format!("2026-03-01T00:00:{clock:02}.{:03}Z/{:04x}", self.dice.below(2), self.dice.below(2)),
            "at": format!("2026-03-01T00:00:{at:02}Z"),
            "body": body,
        });
        let op = read_op(text.clone()).unwrap_or_else(|e| panic!("{e}: {text}")).op;
        let decision = writer(&kind) == Some(Writer::Decision);
        let accepted = (decision || self.dice.percent(80)).then(|| Acceptance {
            by: AccountId(id(9, 0)).into(),
            received: Received(self.dice.of_range(0..50)),
            decision,
        });
        (op, accepted)
    }
}
