//! The caller's streams, and what they may do with one.

use tarn_domain::streams::{AccountId, EpochId, StreamId};

use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result};
use crate::streams::actions::areas::{Areas, Right};
use crate::streams::refusals::STREAM_GONE;
use crate::streams::store;

/// A stream as its reader sees it.
#[derive(Debug, Clone)]
pub struct Listed {
    /// Which.
    pub stream: StreamId,
    /// `room`, `hall` or `library`.
    pub kind: String,
    /// What it is called.
    pub name: String,
    /// The present epoch.
    pub epoch: EpochId,
    /// The greatest seq.
    pub head: u64,
    /// What the caller may do.
    pub right: Right,
}

/// The row of a stream, if an account may do this with it. What it may not see is not there.
///
/// # Errors
/// `not-found`; `stream-gone` to those who wrote into it.
pub async fn may(ctx: &Ctx, account: AccountId, stream: StreamId, wanted: Right) -> Result<store::Row> {
    let areas = ctx.part::<Areas>();
    let nothing = || Problem::new(&NOT_FOUND);
    let Some(row) = store::stream(&ctx.db.conn, stream).await? else {
        let was_theirs = store::is_gone_for(&ctx.db.conn, stream, account).await?;
        return Err(if was_theirs { Problem::new(&STREAM_GONE) } else { nothing() });
    };
    for (kind, access) in &areas.access {
        if *kind == row.kind
            && let Some(right) = access(&ctx.db.conn, account, stream).await?
            && right >= wanted
        {
            return Ok(row);
        }
    }
    Err(nothing())
}

/// The streams an account may pull.
pub async fn list(ctx: &Ctx, account: AccountId) -> Result<Vec<Listed>> {
    let areas = ctx.part::<Areas>();
    let mut all = Vec::new();
    for lister in &areas.listers {
        for (stream, name, right) in lister(&ctx.db.conn, account).await? {
            if let Some(row) = store::stream(&ctx.db.conn, stream).await? {
                all.push(Listed { stream, kind: row.kind, name, epoch: row.epoch, head: row.head, right });
            }
        }
    }
    Ok(all)
}
