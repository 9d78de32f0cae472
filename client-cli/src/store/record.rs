//! Writing down what the keeper says: the op, what it touches and the states that follow, in one transaction.

use std::collections::BTreeSet;

use rusqlite::params;
use tarn_domain::catalogue::{Body, Op, op_text};
use tarn_domain::streams::{At, Clock, LARGEST_OP, OpId};

use super::shelf::SqlShelf;
use super::{OpState, StoreError, Stored, StreamRow, Work};

/// An op to be written.
#[derive(Debug, Clone)]
pub struct NewOp {
    /// Its id.
    pub id: OpId,
    /// When it happened, if the keeper typed it.
    pub at: Option<At>,
    /// What happened.
    pub body: Body,
}

/// An op that was written.
#[derive(Debug, Clone, Copy)]
pub struct Recorded {
    /// Its id.
    pub id: OpId,
    /// Its date.
    pub at: At,
}

impl Work<'_> {
    /// Writes ops in this order. `machine_ms` is what the machine's clock shows; the correction is applied here.
    ///
    /// # Errors
    /// The file, or an op that is too large.
    pub fn record(&self, stream: &StreamRow, machine_ms: i64, ops: Vec<NewOp>) -> Stored<Vec<Recorded>> {
        let wall = machine_ms + self.clock_correction_ms()?;
        let mut clock = self.clock(stream.n)?;
        let mut shelf = SqlShelf::new(&self.tx, stream.n);
        let mut recorded = Vec::with_capacity(ops.len());
        let mut ids = Vec::with_capacity(ops.len());
        for new in ops {
            clock = clock.tick(wall);
            let at = new.at.map_or(clock.at(), |at| at.min(clock.at()));
            let op = Op { id: new.id, device: stream.device, clock, at, body: new.body };
            let n = self.insert_pending(stream, &op, new.at.is_some())?;
            shelf.put(n, &op)?;
            ids.push(op.id);
            recorded.push(Recorded { id: op.id, at });
        }
        shelf.added(&ids, BTreeSet::new())?;
        self.set_clock(stream.n, clock)?;
        Ok(recorded)
    }

    fn insert_pending(&self, stream: &StreamRow, op: &Op, at_typed: bool) -> Stored<i64> {
        let text = op_text(op);
        if text.len() > LARGEST_OP {
            return Err(StoreError::TooLarge(text.len()));
        }
        let mut add = self.tx.prepare_cached(
            "INSERT INTO ops (stream, id, kind, at, clock, text, state, at_typed, known, live, decision)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?, 1, 0, 0)",
        )?;
        Ok(add.insert(params![
            stream.n,
            op.id.0.as_bytes(),
            op.body.kind(),
            op.at.seconds(),
            op.clock.to_string(),
            text,
            OpState::Pending,
            at_typed
        ])?)
    }

    /// Takes in ops of this stream that came by another way than a pull (a folder that was exported): those that are
    /// not here become pending, with their receipts. Returns how many were new.
    ///
    /// # Errors
    /// The file, or bytes that are no op.
    pub fn bring(&self, stream: &StreamRow, ops: &[super::Outgoing]) -> Stored<usize> {
        let mut new = 0;
        let mut greatest = self.clock(stream.n)?;
        for out in ops {
            let raw = super::ops::Raw::read(&out.text)
                .map_err(|e| StoreError::Corrupt(format!("the entry {}: {e}", out.id)))?;
            greatest = greatest.max(raw.clock).max(Clock::START);
            new += self.insert_brought(stream, out, raw)?;
        }
        self.set_clock(stream.n, greatest)?;
        if new > 0 {
            self.rebuild(stream)?;
        }
        Ok(new)
    }

    fn insert_brought(
        &self,
        stream: &StreamRow,
        out: &super::Outgoing,
        raw: super::ops::Raw,
    ) -> Stored<usize> {
        let mut add = self.tx.prepare_cached(
            "INSERT INTO ops (stream, id, kind, at, clock, text, state, at_typed, known, live, decision, by_account,
               received, receipt, was)
             VALUES (?, ?, ?, ?, ?, ?, ?, 1, ?, 0, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
        )?;
        let (id, at, clock) = (raw.id, raw.at, raw.clock);
        let kind = raw.kind().to_owned();
        let op = raw.op().ok();
        let receipt = out.receipt.as_ref();
        let inserted = add.execute(params![
            stream.n,
            id.0.as_bytes(),
            kind,
            at.seconds(),
            clock.to_string(),
            out.text,
            OpState::Pending,
            op.is_some(),
            receipt.is_some_and(|r| r.decision),
            receipt.map(|r| *r.by.id().as_bytes()),
            receipt.map(|r| r.received.0),
            receipt.map(|r| r.mac.as_str()),
            receipt.and_then(|r| r.was).map(|was| was.0)
        ])?;
        if let (1, Some(op)) = (inserted, op) {
            SqlShelf::new(&self.tx, stream.n).put(self.tx.last_insert_rowid(), &op)?;
        }
        Ok(inserted)
    }
}
