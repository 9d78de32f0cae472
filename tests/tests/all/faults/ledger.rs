//! What was promised about a room's ops: acknowledged to a keeper, seen on the server with its time of acceptance.

use rand::rngs::StdRng;
use rand::seq::SliceRandom;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use tarn_domain::catalogue::read_op;
use tarn_domain::state::Memory;
use tarn_domain::streams::{Acceptance, By, Received};
use tarn_tests::api::Caller;

/// An op as a pull brings it.
#[derive(Clone, Debug, PartialEq)]
pub struct Pulled {
    pub seq: u64,
    pub op: Value,
    pub by: String,
    pub received: i64,
    pub decision: bool,
}

impl Pulled {
    pub fn id(&self) -> &str {
        self.op["id"].as_str().unwrap_or_default()
    }

    pub fn clock(&self) -> &str {
        self.op["clock"].as_str().unwrap_or_default()
    }
}

/// Everything that a stream holds, read as a new device would read it.
pub fn pull_all(caller: &Caller, stream: &str) -> Result<Vec<Pulled>, String> {
    let streams = caller.get("/api/v1/streams").expect(200).json();
    let mine = streams["streams"].as_array().into_iter().flatten().find(|s| s["stream"] == stream);
    let epoch =
        mine.and_then(|s| s["epoch"].as_str()).ok_or_else(|| format!("{stream} is not in {streams}"))?;
    let answer = caller.get(&format!("/api/v1/streams/{stream}/ops?epoch={epoch}&after=0&limit=10000"));
    if answer.status != 200 {
        return Err(answer.to_string());
    }
    let page = answer.json();
    if page["more"] != false {
        return Err(format!("there is more than one page: {answer}"));
    }
    let ops = page["ops"].as_array().ok_or("no ops in a pull")?;
    ops.iter()
        .map(pulled)
        .collect::<Option<_>>()
        .ok_or_else(|| format!("not what a pull should bring: {answer}"))
}

fn pulled(row: &Value) -> Option<Pulled> {
    Some(Pulled {
        seq: row["seq"].as_u64()?,
        op: row["op"].clone(),
        by: row["by"].as_str()?.to_owned(),
        received: row["received"].as_i64()?,
        decision: row["decision"].as_bool()?,
    })
}

/// The room that these ops make, whatever their order.
pub fn shuffled(ops: &[Pulled], rng: &mut StdRng) -> Result<Memory, String> {
    let mut shuffled: Vec<&Pulled> = ops.iter().collect();
    shuffled.shuffle(rng);
    let mut memory = Memory::default();
    for pulled in shuffled {
        let read = read_op(pulled.op.clone()).map_err(|e| format!("{}: {e}", pulled.op))?;
        let by = pulled.by.parse().map(By::of).map_err(|_| format!("{} is nobody's id", pulled.by))?;
        let accepted = Acceptance { by, received: Received(pulled.received), decision: pulled.decision };
        memory.add([(read.op, Some(accepted), pulled.seq)]);
    }
    Ok(memory)
}

/// Times of acceptance that were seen, by op.
#[derive(Default)]
pub struct Ledger {
    seen: BTreeMap<String, BTreeSet<i64>>,
    /// Ops whose own writer has pulled them when only one time had ever been seen: it holds the receipt of that time,
    /// and so does everybody else, so no other can ever come up.
    settled: BTreeMap<String, i64>,
    /// Sent again by a stray wire after the server went back, without a receipt: accepted anew, rightly.
    strayed: BTreeSet<String>,
}

impl Ledger {
    /// Notes what the server holds; says if anything has another time than the one that is settled.
    pub fn see(&mut self, ops: &[Pulled]) -> Result<(), String> {
        for op in ops {
            self.seen.entry(op.id().to_owned()).or_default().insert(op.received);
            if let Some(first) = self.settled.get(op.id()).filter(|first| **first != op.received)
                && !self.strayed.contains(op.id())
            {
                return Err(format!("{} was accepted at {first} and now at {}", op.id(), op.received));
            }
        }
        Ok(())
    }

    /// The writer of this op has just pulled everything.
    pub fn settle(&mut self, op: &str) {
        if let Some(times) = self.seen.get(op)
            && let (Some(only), 1) = (times.first(), times.len())
        {
            self.settled.entry(op.to_owned()).or_insert(*only);
        }
    }

    /// How many are settled: a test in which none ever is would prove nothing.
    pub fn settled(&self) -> usize {
        self.settled.len()
    }

    /// This op was sent again from before the server went back.
    pub fn strays(&mut self, op: &str) {
        self.strayed.insert(op.to_owned());
    }
}
