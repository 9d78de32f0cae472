//! What the server holds of some rooms at one moment: their ops, and the rows of stocks and parcels that it keeps of them.

use super::super::ledger::Pulled;
use super::super::world::World;
use super::books::{Sums, brought};
use serde_json::Value;
use std::collections::BTreeMap;
use tarn_domain::catalogue::read_op;
use tarn_domain::parcels::ParcelState;
use tarn_domain::state::Memory;
use tarn_domain::streams::{Acceptance, AccountId, Received};
use uuid::Uuid;

/// One query, so that it is one moment: claims 0, decisions 1, stocks 2, parcels 3.
const ALL: &str = "SELECT CAST(CASE WHEN decision THEN 1 ELSE 0 END AS BIGINT), stream, body FROM ops \
    WHERE stream IN ($1, $2, $3, $4) UNION ALL SELECT 2, stream, rows FROM room_stocks WHERE stream IN ($1, $2, $3, $4) \
    UNION ALL SELECT 3, stream, body FROM parcels WHERE stream IN ($1, $2, $3, $4)";

/// What is there by the rows, and what should be by the ops.
pub fn balance(world: &World, rooms: &[Uuid]) -> Result<(Sums, Sums), String> {
    let mut ops: BTreeMap<Uuid, Vec<(Value, bool)>> = BTreeMap::new();
    let mut there = Sums::new();
    for (kind, room, text) in world.read(ALL, rooms) {
        let json = |e: serde_json::Error| format!("{e}: {text}");
        match kind {
            0 | 1 => {
                ops.entry(room).or_default().push((serde_json::from_str(&text).map_err(json)?, kind == 1))
            }
            2 => {
                let rows: Vec<Value> = serde_json::from_str(&text).map_err(json)?;
                for row in rows {
                    let node = row["node"].as_str().ok_or_else(|| format!("a row without a node: {text}"))?;
                    let n = row["n"].as_i64().ok_or_else(|| format!("a row without a number: {text}"))?;
                    *there.entry(node.to_owned()).or_default() += n;
                }
            }
            _ => {
                let parcel: ParcelState = serde_json::from_str(&text).map_err(json)?;
                for ((node, _), n) in parcel.open().rows() {
                    *there.entry(node.to_string()).or_default() += n;
                }
            }
        }
    }
    let mut should = Sums::new();
    for ops in ops.into_values() {
        let memory = counted(&ops)?;
        let bodies: Vec<Value> = ops.into_iter().map(|(op, _)| op).collect();
        for (node, n) in brought(&bodies, &memory)? {
            *should.entry(node).or_default() += n;
        }
    }
    there.retain(|_, n| *n != 0);
    should.retain(|_, n| *n != 0);
    Ok((there, should))
}

/// Which of a room's ops count.
fn counted(ops: &[(Value, bool)]) -> Result<Memory, String> {
    let mut memory = Memory::default();
    let mut all = Vec::new();
    for ((op, decision), seq) in ops.iter().zip(1..) {
        let read = read_op(op.clone()).map_err(|e| format!("{op}: {e}"))?;
        let accepted =
            Acceptance { by: AccountId(Uuid::nil()).into(), received: Received(0), decision: *decision };
        all.push((read.op, Some(accepted), seq));
    }
    memory.add(all);
    Ok(memory)
}

/// The bodies of a kind among ops that were pulled, each with its op.
pub fn of_kind<'a>(ops: &'a [Pulled], kind: &'a str) -> impl Iterator<Item = (&'a Pulled, &'a Value)> {
    ops.iter().map(|op| (op, &op.op["body"])).filter(move |(_, body)| body["op"] == kind)
}
