//! A client's push: read op by op, appended in one transaction, answered after the commit.

use bytes::Bytes;
use futures_util::future::join;
use serde::Deserialize;
use serde_json::value::RawValue;
use tarn_domain::streams::{AccountId, DeviceId, LARGEST_PUSH_OPS, StreamId};
use tokio::task::{spawn_blocking, yield_now};

use super::append::{Appended, Ops, run};
use super::intake::{self, Pushed, Raw, Told};
use super::list::may;
use super::path::Path;
use crate::platform::errors::{MALFORMED, Problem};
use crate::platform::{Ctx, Result, actor::Actor, keys::Key, write::Write};
use crate::streams::actions::areas::Right;
use crate::streams::refusals::{DEVICE_ENDED, OP_MALFORMED, PUSH_TOO_LARGE};
use crate::streams::store;

/// So many ops are read in one go.
const AT_A_TIME: usize = 50;
/// From so many on it is worth waking another thread.
const WORTH_TWO: usize = 100;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Outer<T> {
    ops: Vec<T>,
}

/// Takes a push.
///
/// # Errors
/// `not-found`, `malformed` for a broken outer document, `push-too-large`, `device-ended`, `clock-ahead`; then nothing was
/// stored.
pub async fn push(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    stream: StreamId,
    body: Bytes,
) -> Result<Appended> {
    let before = async {
        let (row, devices) =
            join(may(ctx, account, stream, Right::Write), store::devices_of(&ctx.db.conn, stream)).await;
        // Long reading is done before anything is locked.
        store::cache::warm(ctx, &row?).await?;
        devices
    };
    // The push is read while the database looks the caller up; its "no" comes first.
    let (devices, told) = join(before, read(&body, &ctx.keys.receipt, stream)).await;
    let (devices, told) = (devices?, told?);
    // refused whole, so that no client takes it for a "no" to the ops themselves
    let is_over = |id: &DeviceId| devices.get(id).is_some_and(|device| device.ended_ms.is_some());
    if told.iter().flatten().any(|ready| ready.back.is_none() && is_over(&ready.op.device)) {
        return Err(Problem::new(&DEVICE_ENDED));
    }
    let devices = store::that_write(devices);
    let mut told = Some(told);
    let mut tries = 0;
    loop {
        tries += 1;
        let pushed = match told.take() {
            Some(told) => told,
            None => read(&body, &ctx.keys.receipt, stream).await?,
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

/// Reads a push op by op, and lets others have a turn now and then; of a long one the second half on another thread.
async fn read(body: &Bytes, key: &Key, stream: StreamId) -> Result<Vec<Told>> {
    let mut ops = take_apart(body)?;
    if ops.len() > LARGEST_PUSH_OPS {
        return Err(Problem::new(&PUSH_TOO_LARGE).detail(format!("{} ops; 1,000 are the most.", ops.len())));
    }
    let key = *key;
    let read = move |op: &Apart| match op {
        Ok(op) => intake::read(op, &key, stream),
        Err(why) => Err((None, Problem::new(&OP_MALFORMED).detail(why))),
    };
    let second = if ops.len() < WORTH_TWO { Vec::new() } else { ops.split_off(ops.len() / 2) };
    let second =
        (!second.is_empty()).then(|| spawn_blocking(move || second.iter().map(read).collect::<Vec<Told>>()));
    let mut told = Vec::with_capacity(ops.len() * 2 + 1);
    for some in ops.chunks(AT_A_TIME) {
        told.extend(some.iter().map(read));
        yield_now().await;
    }
    if let Some(second) = second {
        told.extend(second.await.map_err(|e| Problem::failed("reading a push", e))?);
    }
    Ok(told)
}

/// One op of a push, or why it has not the outer form of one.
type Apart = Result<Pushed, String>;

/// The ops of a push, each by itself.
fn take_apart(body: &Bytes) -> Result<Vec<Apart>> {
    if let Ok(outer) = serde_json::from_slice::<Outer<Raw<'_>>>(body) {
        return Ok(outer.ops.into_iter().map(|op| Ok(op.keep(body))).collect());
    }
    let outer: Outer<&RawValue> = serde_json::from_slice(body)
        .map_err(|e| Problem::new(&MALFORMED).detail(format!("The push: {e}.")))?;
    let one = |op: &RawValue| serde_json::from_str::<Raw<'_>>(op.get()).map(|op| op.keep(body));
    Ok(outer.ops.into_iter().map(|op| one(op).map_err(|e| e.to_string())).collect())
}
