//! Everything of a stream, one line an op as a pull gives it: what its keeper takes along. Read some at a time, so that
//! a large room costs no memory.

use bytes::Bytes;
use futures_util::stream::{Stream, try_unfold};
use tarn_domain::streams::{AccountId, StreamId};

use super::list::may;
use super::pull::write_op;
use crate::platform::{Ctx, Result};
use crate::streams::actions::areas::Right;
use crate::streams::store;

/// How many ops are read at once.
const AT_ONCE: u64 = 1_000;

/// An export while it goes on.
pub struct Export {
    ctx: Ctx,
    stream: StreamId,
    after: u64,
    /// The head when it began: what comes later is in the next one.
    head: u64,
}

/// Begins one.
///
/// # Errors
/// `not-found`, `stream-gone`.
pub async fn export(ctx: &Ctx, account: AccountId, stream: StreamId) -> Result<Export> {
    let row = may(ctx, account, stream, Right::Read).await?;
    Ok(Export { ctx: ctx.clone(), stream, after: 0, head: row.head })
}

impl Export {
    /// All of it, some lines at a time.
    pub fn lines(self) -> impl Stream<Item = Result<Bytes>> + Unpin {
        Box::pin(try_unfold(self, async |mut export| Ok(export.next().await?.map(|some| (some, export)))))
    }

    /// The next lines; none when all was given out.
    async fn next(&mut self) -> Result<Option<Bytes>> {
        let page = store::between(&self.ctx.db.conn, self.stream, self.after, self.head, AT_ONCE).await?;
        let Some(last) = page.last() else { return Ok(None) };
        self.after = last.seq;
        let mut lines = String::with_capacity(page.iter().map(|op| op.text.len() + 200).sum());
        for op in &page {
            write_op(&self.ctx, self.stream, op, None, &mut lines);
            lines.push('\n');
        }
        Ok(Some(lines.into()))
    }
}
