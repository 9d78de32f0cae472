//! What the quarantine clock reads out of the file: the logs that count as evidence, when an entry was received, and
//! the whole room where late and withdrawn entries have to be looked at.

use rusqlite::{OptionalExtension, params};
use tarn_domain::catalogue::Op;
use tarn_domain::quarantine::Evidence;
use tarn_domain::state::{Memory, evidence};
use tarn_domain::streams::{OpId, Received};

use super::ops::op_of;
use super::rebuild::memory_op;
use super::{Store, Stored, StreamRow};

impl Store {
    /// Signs, looks and restarts that count, in no order.
    ///
    /// # Errors
    /// The file.
    pub fn evidence(&self, stream: &StreamRow) -> Stored<Vec<Evidence>> {
        let mut find = self.db.prepare_cached(
            "SELECT text FROM ops WHERE stream = ? AND live AND state <> 4 AND known
               AND kind IN ('look.done', 'sign.seen', 'quarantine.restarted')",
        )?;
        let mut rows = find.query([stream.n])?;
        let mut all = Vec::new();
        while let Some(row) = rows.next()? {
            if let Some(op) = op_of(row.get_ref(0)?.as_str().map_err(rusqlite::Error::from)?) {
                all.extend(evidence(op.id, op.at, &op.body));
            }
        }
        Ok(all)
    }

    /// When the server received an entry; none: it has not, as far as is known here.
    ///
    /// # Errors
    /// The file.
    pub fn received(&self, stream: &StreamRow, op: OpId) -> Stored<Option<Received>> {
        let mut find = self.db.prepare_cached("SELECT received FROM ops WHERE stream = ? AND id = ?")?;
        let found: Option<Option<i64>> =
            find.query_row(params![stream.n, op.0.as_bytes()], |row| row.get(0)).optional()?;
        Ok(found.flatten().map(Received))
    }

    /// An op that is here and that this version understands.
    ///
    /// # Errors
    /// The file.
    pub fn op(&self, stream: &StreamRow, op: OpId) -> Stored<Option<Op>> {
        let mut find = self.db.prepare_cached("SELECT text FROM ops WHERE stream = ? AND id = ?")?;
        let found: Option<String> =
            find.query_row(params![stream.n, op.0.as_bytes()], |row| row.get(0)).optional()?;
        Ok(found.as_deref().and_then(op_of))
    }

    /// Every op of a room but notes and readings, folded in memory.
    ///
    /// # Errors
    /// The file.
    pub fn memory(&self, stream: &StreamRow) -> Stored<Memory> {
        let mut find = self.db.prepare_cached(
            "SELECT n, id, live, text, by_account, received, decision, seq FROM ops
             WHERE stream = ? AND state <> 4 AND known AND kind NOT IN ('note.written', 'water.read', 'water.logged')",
        )?;
        let mut rows = find.query([stream.n])?;
        let mut ops = Vec::new();
        while let Some(row) = rows.next()? {
            if let Some(op) = op_of(row.get_ref(3)?.as_str().map_err(rusqlite::Error::from)?) {
                ops.push(memory_op(row, op)?);
            }
        }
        let mut memory = Memory::default();
        memory.add(ops);
        Ok(memory)
    }
}
