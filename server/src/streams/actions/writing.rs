//! Ops on their way to their rows: handed out while the next are judged, and written one lot after the other.

use tarn_domain::streams::{Chain, OpId, StreamId};
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};
use uuid::Uuid;

use crate::platform::{Result, write::Write};
use crate::streams::store::{self, Row, Stored};

/// So many ops are written at once while others wait to be judged: fewer, and the statements cost more than the waiting.
const LOT: usize = 250;

/// Ops to be written, and the chain after the last of them if it is kept there.
pub(super) type Lot = (Vec<(OpId, Uuid, Stored)>, Option<Chain>);

/// What was taken in and is not written yet.
pub(super) struct Rows {
    /// What was not handed out yet.
    pub(super) waiting: Vec<(OpId, Uuid, Stored)>,
    out: Option<UnboundedSender<Lot>>,
}

impl Rows {
    /// None yet; and where they are handed out to.
    pub(super) fn new() -> (Self, UnboundedReceiver<Lot>) {
        let (out, handed_out) = unbounded_channel();
        (Self { waiting: Vec::new(), out: Some(out) }, handed_out)
    }

    /// Hands out everything that waits; the row is as it will be then. The last one keeps the chain.
    pub(super) fn hand_out(&mut self, row: &mut Row) {
        if !self.waiting.is_empty() {
            let lot = std::mem::take(&mut self.waiting);
            self.send(row, lot, true);
        }
    }

    /// Hands out a lot if there is one; whether it did. One stays, since the last of all keeps the chain.
    pub(super) fn hand_out_some(&mut self, row: &mut Row) -> bool {
        if self.waiting.len() <= LOT {
            return false;
        }
        let rest = self.waiting.split_off(LOT);
        let lot = std::mem::replace(&mut self.waiting, rest);
        self.send(row, lot, false);
        true
    }

    /// There are no more.
    pub(super) fn end(&mut self) {
        self.out = None;
    }

    fn send(&self, row: &mut Row, lot: Vec<(OpId, Uuid, Stored)>, is_last: bool) {
        for (_, _, op) in &lot {
            row.chain = row.chain.then(op.op_text(), op.accepted);
            row.head = op.seq;
            row.last_received = row.last_received.max(op.accepted.received);
        }
        if let Some(out) = &self.out {
            // Whoever takes them stops only when the write has failed.
            let _ = out.send((lot, is_last.then_some(row.chain)));
        }
    }
}

/// Writes what is handed out, until there is no more.
pub(super) async fn write_ops(
    w: &Write,
    stream: StreamId,
    mut handed_out: UnboundedReceiver<Lot>,
) -> Result<()> {
    while let Some((lot, chain)) = handed_out.recv().await {
        store::insert(w.tx(), stream, lot, chain).await?;
    }
    Ok(())
}
