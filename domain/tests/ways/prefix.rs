//! Recall, read slowly: after every push the whole set of entries that count for a sign-off is put together anew, read
//! from nothing, and the sign-off held against what comes out. Remembers nothing but what was recalled before.

use std::collections::BTreeSet;

use tarn_domain::catalogue::{Body, Op};
use tarn_domain::quarantine::SignOffs;
use tarn_domain::state::{Memory, reading};
use tarn_domain::streams::{Acceptance, At, OpId, StockId};

type Accepted = (Op, Option<Acceptance>);

/// When an entry was received; after everything else if it was not.
fn received((_, accepted): &Accepted) -> i64 {
    accepted.map_or(i64::MAX, |accepted| accepted.received.0)
}

fn is_decision((_, accepted): &Accepted) -> bool {
    accepted.is_some_and(|accepted| accepted.decision)
}

/// When an entry counts: a sign when it was last seen.
fn counts_at((op, _): &Accepted) -> At {
    match &op.body {
        Body::SignSeen(sign) => sign.last_seen.map_or(op.at, |seen| seen.min(op.at)),
        _ => op.at,
    }
}

/// The sign-offs that were recalled.
pub fn recalled(ops: &[Accepted]) -> BTreeSet<OpId> {
    let mut signed: Vec<(&Accepted, BTreeSet<StockId>)> = Vec::new();
    for op in ops {
        if let Body::QuarantineCleared(says) = &op.0.body {
            signed.push((op, says.members.iter().copied().collect()));
        }
    }
    signed.sort_by_key(|(op, _)| op.0.order());
    let pushes: BTreeSet<i64> = ops.iter().map(received).collect();
    let mut recalled = BTreeSet::new();
    for push in pushes {
        for (sign_off, members) in &signed {
            let (id, at) = (sign_off.0.id, sign_off.0.at);
            if recalled.contains(&id) || received(sign_off) >= push {
                continue;
            }
            let came_after = |op: &&Accepted| {
                let claim = !is_decision(op) && !matches!(op.0.body, Body::Withdrawn(_));
                received(op) > received(sign_off) && received(op) <= push && claim && counts_at(op) <= at
            };
            // A push that brings nothing of that time says nothing new of it.
            if !ops.iter().any(|op| came_after(&op) && received(op) == push) {
                continue;
            }
            let known = ops.iter().filter(|op| received(op) <= received(sign_off) || came_after(op));
            let mut memory = Memory::default();
            memory.add(known.cloned().zip(1..).map(|((op, accepted), seq)| (op, accepted, seq)));
            let mut ignored = recalled.clone();
            ignored.insert(id);
            let then = reading(&memory, at, SignOffs::Known(&ignored));
            let holds = then.units.iter().any(|unit| {
                let there: BTreeSet<StockId> = unit.members.iter().map(|member| member.stock).collect();
                let clean = unit.gaps.is_empty() && unit.marks.is_empty();
                there == *members && clean && unit.due.is_some_and(|due| due <= at)
            });
            if !holds {
                recalled.insert(id);
            }
        }
    }
    recalled
}
