//! Reads every stream from its first op and compares: numbers without gaps, the chain, and every row that areas
//! keep of the state. Changes nothing, unless projections are to be made anew.

use tarn_domain::streams::{Chain, StreamId};

use super::rebuild::all_anew;
use crate::platform::{Ctx, Result};
use crate::streams::actions::areas::Areas;
use crate::streams::store;
use crate::streams::store::cache::{Cache, bring_to_head};

/// How many ops are read at once.
const AT_ONCE: u64 = 5_000;

/// What was found in one stream.
pub struct Checked {
    /// Which.
    pub stream: StreamId,
    /// How many ops it has.
    pub ops: u64,
    /// What is wrong; nothing, if all is well.
    pub faults: Vec<String>,
}

/// Checks every stream; safe while the server runs. With `rebuild` all projections are made anew first.
///
/// # Errors
/// Of the database only: what is wrong in a stream is an answer.
pub async fn check(ctx: &Ctx, rebuild: bool) -> Result<Vec<Checked>> {
    let mut all = Vec::new();
    for row in store::streams_all(&ctx.db.conn).await? {
        if rebuild {
            all_anew(ctx, row.id).await?;
        }
        all.push(one(ctx, row.id).await?);
    }
    Ok(all)
}

async fn one(ctx: &Ctx, id: StreamId) -> Result<Checked> {
    let (areas, fold_version) = (ctx.part::<Areas>(), ctx.config.fold_version);
    let mut held = ctx.part::<Cache>().hold(id).await;
    *held = store::cache::Room::empty(Some(id));
    let snapshot = ctx.db.snapshot().await?;
    let Some(row) = store::stream(&snapshot, id).await? else {
        return Ok(Checked { stream: id, ops: 0, faults: vec!["it is gone".into()] });
    };
    let mut faults = Vec::new();
    let (mut chain, mut next) = (Chain::EMPTY, 1);
    loop {
        let page = store::between(&snapshot, id, next - 1, i64::MAX.unsigned_abs(), AT_ONCE).await?;
        if page.is_empty() {
            break;
        }
        for op in page {
            if op.seq != next {
                faults.push(format!("after op {} comes op {}", next - 1, op.seq));
            }
            next = op.seq + 1;
            chain = chain.then(op.op_text(), op.accepted);
        }
    }
    if next != row.head + 1 || chain != row.chain {
        faults.push(format!(
            "the head says {} ops, there are {}, or their chain differs",
            row.head,
            next - 1
        ));
    }
    if faults.is_empty() && row.fold_version <= fold_version {
        match bring_to_head(ctx, &snapshot, &mut held, &row).await {
            Err(problem) => faults.push(problem.to_string()),
            Ok(()) if held.memory.len() as u64 != row.head => {
                faults.push(format!(
                    "of {} ops only {} have an id of their own",
                    row.head,
                    held.memory.len()
                ));
            }
            Ok(()) if row.fold_version < fold_version => {}
            Ok(()) => {
                for checker in &areas.checkers {
                    faults.extend(checker(&snapshot, id, &held.memory).await?);
                }
            }
        }
    }
    snapshot.rollback().await?;
    Ok(Checked { stream: id, ops: row.head, faults })
}
