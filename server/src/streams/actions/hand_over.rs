//! What somebody wrote before they lost the right: the server vouches for who wrote it, and somebody who may write the
//! stream, or an officer, takes it in. It goes in as it was written, under its writer's name and device, so that it is
//! there once, whoever brings it; a decision beside it says who took it in.

use std::collections::{HashMap, HashSet};

use serde_json::Value;
use tarn_domain::catalogue::{Body, read_op};
use tarn_domain::streams::{
    AccountId, Adopted as AdoptedOp, DeviceId, LARGEST_PUSH_OPS, OpId, StreamId, voucher,
};

use super::append::{Appended, Incoming, Ops, append, run};
use super::areas::following_id;
use super::intake::read_handed;
use super::list::may;
use super::path::Path;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result, actor::Actor, write::write};
use crate::streams::actions::areas::{Areas, Right};
use crate::streams::refusals::{DEVICE_NOT_YOURS, PUSH_TOO_LARGE, not_an_op};
use crate::streams::store;

/// An op, and the server's word for who wrote it.
#[derive(Debug, Clone)]
pub struct Handed {
    /// The op.
    pub op: Value,
    /// The word.
    pub mac: String,
}

/// What came of an adoption.
pub struct Adopted {
    /// One outcome per op, in order.
    pub appended: Appended,
    /// Those that are newly in the stream.
    pub taken: Vec<OpId>,
}

/// Vouches that the account wrote these ops, each on a device of its own in this stream. Needs no right to the stream any
/// more; that they once had one, their devices show.
///
/// # Errors
/// `not-found` to those who never had a device in it; of one op `device-not-yours` and what makes it none.
pub async fn vouch(
    ctx: &Ctx,
    account: AccountId,
    stream: StreamId,
    ops: Vec<Value>,
) -> Result<Vec<Result<(OpId, String), Problem>>> {
    not_too_many(ops.len())?;
    let devices = owners(ctx, stream).await?;
    if !devices.values().any(|owner| *owner == account) {
        return Err(Problem::new(&NOT_FOUND));
    }
    let word = |op: Value| {
        let read = read_op(op).map_err(|no| not_an_op(&no))?;
        if devices.get(&read.op.device) != Some(&account) {
            return Err(Problem::new(&DEVICE_NOT_YOURS));
        }
        Ok((read.op.id, voucher(&ctx.keys.receipt, stream, &read.text, account)))
    };
    Ok(ops.into_iter().map(word).collect())
}

/// Takes in what another wrote.
///
/// # Errors
/// `not-found`; what refuses a push as a whole.
pub async fn adopt(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    stream: StreamId,
    from: AccountId,
    ops: &[Handed],
) -> Result<Adopted> {
    not_too_many(ops.len())?;
    may_adopt(ctx, account, stream, from).await?;
    let devices = owners(ctx, stream).await?;
    write(ctx, actor, async |w| {
        let key = &ctx.keys.receipt;
        let told = ops.iter().map(|handed| read_handed(&handed.op, &handed.mac, key, stream, from)).collect();
        let mut appended = run(w, stream, Ops::Pushed(told, &devices), Path::Adopted(from)).await?;
        let theirs: HashSet<DeviceId> =
            devices.iter().filter(|(_, owner)| **owner == from).map(|(device, _)| *device).collect();
        let new = appended.accepted.iter().filter(|accepted| theirs.contains(&accepted.op.device));
        let taken: Vec<OpId> = new.map(|accepted| accepted.op.id).collect();
        if let Some(first) = taken.first() {
            let id = following_id(*first, "op.adopted");
            let body = Body::Adopted(AdoptedOp { entries: taken.clone(), from });
            let decided = vec![Incoming { id, at: None, body }];
            appended.head = append(w, stream, decided, Path::Decision(account)).await?.head;
            let n = taken.len();
            w.audit("streams", format!("{n} entries of {from} in stream {stream} adopted by {account}"));
        }
        Ok(Adopted { appended, taken })
    })
    .await
}

/// Whose each device of the stream is; one that its owner ended has written what it wrote.
async fn owners(ctx: &Ctx, stream: StreamId) -> Result<HashMap<DeviceId, AccountId>> {
    Ok(store::that_write(store::devices_of(&ctx.db.conn, stream).await?))
}

/// Those who write the stream may, and whom an area names; but nobody lets themselves in.
async fn may_adopt(ctx: &Ctx, account: AccountId, stream: StreamId, from: AccountId) -> Result<()> {
    let no = match may(ctx, account, stream, Right::Write).await {
        Ok(_) => return Ok(()),
        Err(no) => no,
    };
    if account == from {
        return Err(no);
    }
    let Some(row) = store::stream(&ctx.db.conn, stream).await? else { return Err(no) };
    for (kind, adopts) in &ctx.part::<Areas>().adopters {
        if *kind == row.kind && adopts(&ctx.db.conn, account, stream).await? {
            return Ok(());
        }
    }
    Err(no)
}

/// One request holds no more than a push.
pub(super) fn not_too_many(ops: usize) -> Result<()> {
    if ops > LARGEST_PUSH_OPS {
        return Err(Problem::new(&PUSH_TOO_LARGE).detail(format!("{ops} ops; 1,000 are the most.")));
    }
    Ok(())
}
