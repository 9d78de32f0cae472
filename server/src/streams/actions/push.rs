//! A client's push: read op by op, appended in one transaction, answered after the commit.

use futures_util::future::join;
use serde::Deserialize;
use serde_json::value::RawValue;
use tarn_domain::streams::{AccountId, LARGEST_PUSH_OPS, StreamId};
use tokio::task::yield_now;

use super::append::{Appended, Ops, Path, run};
use super::intake::{self, Pushed, Told};
use super::list::may;
use crate::platform::errors::{MALFORMED, Problem};
use crate::platform::{Ctx, Result, actor::Actor, write::Write};
use crate::streams::actions::areas::Right;
use crate::streams::refusals::{OP_MALFORMED, PUSH_TOO_LARGE};
use crate::streams::store;

/// So many ops are read in one go.
const AT_A_TIME: usize = 50;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Outer<T> {
    ops: Vec<T>,
}

/// Takes a push.
///
/// # Errors
/// `not-found`, `malformed` for a broken outer document, `push-too-large`, `clock-ahead`; then nothing was stored.
pub async fn push(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    stream: StreamId,
    body: &[u8],
) -> Result<Appended> {
    let before = async {
        let row = may(ctx, account, stream, Right::Write).await?;
        // Long reading is done before anything is locked.
        store::cache::warm(ctx, &row).await?;
        store::devices_of(&ctx.db.conn, stream).await
    };
    // The push is read while the database looks the caller up; its "no" comes first.
    let (devices, told) = join(before, read(body, &ctx.keys.receipt, stream)).await;
    let devices = devices?;
    let mut told = Some(told?);
    let mut tries = 0;
    loop {
        tries += 1;
        let pushed = match told.take() {
            Some(told) => told,
            None => read(body, &ctx.keys.receipt, stream).await?,
        };
        let mut w = Write::begin(ctx, actor).await?;
        match run(&mut w, stream, Ops::Pushed(pushed, &devices), Path::Push(account)).await {
            Ok(appended) => {
                w.commit().await?;
                return Ok(appended);
            }
            Err(problem) => {
                w.roll_back().await;
                if !problem.is_worth_a_retry() || tries == 5 {
                    return Err(problem);
                }
            }
        }
    }
}

/// Reads a push op by op, and lets others have a turn now and then.
async fn read(body: &[u8], key: &[u8], stream: StreamId) -> Result<Vec<Told>> {
    let ops = take_apart(body)?;
    if ops.len() > LARGEST_PUSH_OPS {
        return Err(Problem::new(&PUSH_TOO_LARGE).detail(format!("{} ops; 1,000 are the most.", ops.len())));
    }
    let mut told = Vec::with_capacity(ops.len());
    for some in ops.chunks(AT_A_TIME) {
        told.extend(some.iter().map(|op| match op {
            Ok(op) => intake::read(op, key, stream),
            Err(why) => Err((None, Problem::new(&OP_MALFORMED).detail(why))),
        }));
        yield_now().await;
    }
    Ok(told)
}

/// The ops of a push, each by itself; or why one has not the outer form of an op.
fn take_apart(body: &[u8]) -> Result<Vec<Result<Pushed<'_>, String>>> {
    if let Ok(outer) = serde_json::from_slice::<Outer<Pushed<'_>>>(body) {
        return Ok(outer.ops.into_iter().map(Ok).collect());
    }
    let outer: Outer<&RawValue> = serde_json::from_slice(body)
        .map_err(|e| Problem::new(&MALFORMED).detail(format!("The push: {e}.")))?;
    Ok(outer.ops.into_iter().map(|op| serde_json::from_str(op.get()).map_err(|e| e.to_string())).collect())
}
