//! A pull: the ops after a number, each with its receipt, if the caller's history is the stream's.

use std::fmt::Write as _;

use sea_orm::ConnectionTrait;
use serde_json::json;
use tarn_domain::streams::{AccountId, Chain, EpochId, LARGEST_PULL, StreamId, receipt};

use super::list::may;
use super::redact::blanked_by;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result};
use crate::streams::actions::areas::Right;
use crate::streams::refusals::HISTORY_CHANGED;
use crate::streams::store::{self, Row, Stored};

/// A pull ends with the page that reaches so many bytes; the rest is `more`.
const ENOUGH_BYTES: usize = 8 * 1024 * 1024;
/// How many ops are read at once.
const AT_ONCE: u64 = 1_000;

/// What is asked.
#[derive(Debug, Clone)]
pub struct Pull {
    /// The epoch the caller knows.
    pub epoch: EpochId,
    /// The last number it holds.
    pub after: u64,
    /// The chain there, as it computes it.
    pub chain: Option<Chain>,
    /// The most ops to answer with.
    pub limit: u64,
}

/// What a pull found.
pub(super) struct Page {
    /// The stream.
    pub row: Row,
    /// The ops after the number that was asked for, each with what it blanked.
    pub ops: Vec<(Stored, Option<Stored>)>,
    /// The chain before the first of them.
    pub chain: Chain,
}

/// Reads what a pull asks for, if its history is the stream's.
///
/// # Errors
/// `not-found`; `history-changed` with what still stands.
pub(super) async fn page(ctx: &Ctx, account: AccountId, stream: StreamId, ask: &Pull) -> Result<Page> {
    may(ctx, account, stream, Right::Read).await?;
    let tx = ctx.db.snapshot().await?;
    let row = store::stream(&tx, stream).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    if ask.epoch != row.epoch {
        let lines = store::lines(&tx, stream).await?;
        let common = lines.iter().find(|(epoch, _)| *epoch == ask.epoch).map_or(0, |(_, last)| *last);
        return Err(changed(row.epoch, &lines, common));
    }
    if ask.after > row.head {
        return Err(changed(row.epoch, &store::lines(&tx, stream).await?, 0));
    }
    let chain = store::chain_at(&tx, stream, ask.after).await?;
    if ask.after > 0 && ask.chain.is_some_and(|theirs| theirs != chain) {
        return Err(changed(row.epoch, &store::lines(&tx, stream).await?, 0));
    }
    let mut ops = Vec::new();
    for op in some(&tx, stream, ask, row.head).await? {
        let blanked = blanked_by(&tx, stream, &op).await?;
        ops.push((op, blanked));
    }
    tx.rollback().await?;
    Ok(Page { row, ops, chain })
}

/// Answers a pull with its JSON text (ops are embedded as they are stored).
///
/// # Errors
/// `not-found`; `history-changed` with what still stands.
pub async fn pull(ctx: &Ctx, account: AccountId, stream: StreamId, ask: &Pull) -> Result<String> {
    let Page { row, ops, mut chain } = page(ctx, account, stream, ask).await?;
    let mut out = String::with_capacity(ops.iter().map(|(op, _)| op.text.len() + 200).sum::<usize>() + 200);
    let last = ops.last().map_or(ask.after, |(op, _)| op.seq);
    out.push_str("{\"ops\":[");
    for (i, (op, blanked)) in ops.iter().enumerate() {
        chain = chain.then(op.op_text(), op.accepted);
        out.push_str(if i == 0 { "" } else { "," });
        write_op(ctx, stream, op, blanked.as_ref(), &mut out);
    }
    let more = last < row.head;
    let (epoch, head, chain) = (row.epoch, row.head, chain.hex());
    let _ = write!(out, "],\"epoch\":\"{epoch}\",\"head\":{head},\"chain\":\"{chain}\",\"more\":{more}}}");
    Ok(out)
}

/// An op as everybody who reads the stream gets it; one that blanked another, with what that is now.
pub(super) fn write_op(ctx: &Ctx, stream: StreamId, op: &Stored, blanked: Option<&Stored>, out: &mut String) {
    let mac = receipt(&ctx.keys.receipt, stream, op.op_text(), op.accepted);
    let _ = write!(
        out,
        "{{\"seq\":{},\"op\":{},\"by\":\"{}\",\"received\":{},\"decision\":{},\"receipt\":\"{mac}\"",
        op.seq, op.text, op.accepted.by, op.accepted.received.0, op.accepted.decision,
    );
    if let Some(was) = op.was {
        let _ = write!(out, ",\"was\":\"{}\"", was.hex());
    }
    if let Some(blanked) = blanked {
        out.push_str(",\"blanked\":");
        write_op(ctx, stream, blanked, None, out);
    }
    out.push('}');
}

/// The ops after a number, as many as were asked for, or until they are enough bytes; at least one.
async fn some(conn: &impl ConnectionTrait, stream: StreamId, ask: &Pull, head: u64) -> Result<Vec<Stored>> {
    let most = ask.limit.clamp(1, LARGEST_PULL);
    let (mut ops, mut bytes): (Vec<Stored>, usize) = (Vec::new(), 0);
    while (ops.len() as u64) < most && bytes < ENOUGH_BYTES {
        let after = ops.last().map_or(ask.after, |op| op.seq);
        let page = store::between(conn, stream, after, head, AT_ONCE.min(most - ops.len() as u64)).await?;
        if page.is_empty() {
            break;
        }
        bytes += page.iter().map(|op| op.text.len()).sum::<usize>();
        ops.extend(page);
    }
    Ok(ops)
}

fn changed(epoch: EpochId, lines: &[(EpochId, u64)], common: u64) -> Problem {
    let line: Vec<_> = lines.iter().map(|(epoch, last)| json!({"epoch": epoch, "last_seq": last})).collect();
    Problem::new(&HISTORY_CHANGED).with("epoch", json!(epoch)).with("line", line).with("common", common)
}
