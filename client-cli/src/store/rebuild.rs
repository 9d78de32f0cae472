//! Folding a whole stream at once: after a large pull, or when a newer version reads the same ops in another way.

use rusqlite::{Row, params};
use tarn_domain::catalogue::{FOLD_VERSION, OPS_VERSION, Op};
use tarn_domain::state::Memory;
use tarn_domain::streams::OpId;
use uuid::Uuid;

use super::fold::write_state;
use super::ops::{acceptance, op_of};
use super::shelf::{SqlShelf, kind_of};
use super::{Store, Stored, StreamRow, Work};

impl Store {
    /// Folds whatever is not folded yet.
    ///
    /// # Errors
    /// The file.
    pub fn catch_up(&mut self, stream: &StreamRow) -> Stored {
        if stream.stale { self.write(|work| work.catch_up(stream)) } else { Ok(()) }
    }
}

impl Work<'_> {
    /// Folds whatever is not folded yet.
    ///
    /// # Errors
    /// The file.
    pub fn catch_up(&self, stream: &StreamRow) -> Stored {
        let now = self.stream(stream.id)?;
        if !now.stale {
            return Ok(());
        }
        let find = "SELECT fold_version = ? AND read_version = ? FROM streams WHERE n = ?";
        let key = params![FOLD_VERSION, OPS_VERSION, now.n];
        let same_reading: bool = self.tx.query_row(find, key, |row| row.get(0))?;
        if !same_reading {
            self.read_anew(&now)?;
        }
        self.rebuild(&now)
    }

    /// Puts every op on the shelf again, since links may be read in another way now.
    fn read_anew(&self, stream: &StreamRow) -> Stored {
        self.tx.execute(
            "DELETE FROM touches WHERE entity IN (SELECT n FROM entities WHERE stream = ?)",
            [stream.n],
        )?;
        self.tx.execute("DELETE FROM withdrawals WHERE stream = ?", [stream.n])?;
        let mut shelf = SqlShelf::new(&self.tx, stream.n);
        let mut find = self.tx.prepare("SELECT n, text FROM ops WHERE stream = ? AND state <> 4")?;
        let mut known = self.tx.prepare("UPDATE ops SET known = ? WHERE n = ? AND known <> ?")?;
        let mut rows = find.query([stream.n])?;
        while let Some(row) = rows.next()? {
            let n: i64 = row.get(0)?;
            let op = op_of(row.get_ref(1)?.as_str().map_err(rusqlite::Error::from)?);
            known.execute(params![op.is_some(), n, op.is_some()])?;
            if let Some(op) = op {
                shelf.put(n, &op)?;
            }
        }
        Ok(())
    }

    /// Folds all of a stream in memory and writes what differs.
    pub(super) fn rebuild(&self, stream: &StreamRow) -> Stored {
        let mut room = Memory::default();
        let mut rows: Vec<(i64, OpId, bool)> = Vec::new();
        let mut find = self.tx.prepare(
            "SELECT n, id, live, text, by_account, received, decision, seq FROM ops
             WHERE stream = ? AND state <> 4 AND known",
        )?;
        let mut ops = Vec::new();
        let mut found = find.query([stream.n])?;
        while let Some(row) = found.next()? {
            let Some(op) = op_of(row.get_ref(3)?.as_str().map_err(rusqlite::Error::from)?) else { continue };
            rows.push((row.get(0)?, OpId(Uuid::from_bytes(row.get(1)?)), row.get(2)?));
            ops.push(memory_op(row, op)?);
        }
        room.add(ops);
        let mut light = self.tx.prepare("UPDATE ops SET live = ? WHERE n = ?")?;
        for (n, id, was) in rows {
            let live = room.entry(id).is_some_and(|entry| entry.linked.live);
            if live != was {
                light.execute(params![live, n])?;
            }
        }
        self.write_states(stream, &room)?;
        self.tx.execute(
            "UPDATE streams SET behind = 0, fold_version = ?, read_version = ? WHERE n = ?",
            params![FOLD_VERSION, OPS_VERSION, stream.n],
        )?;
        Ok(())
    }

    fn write_states(&self, stream: &StreamRow, room: &Memory) -> Stored {
        let mut find = self.tx.prepare("SELECT n, kind, id FROM entities WHERE stream = ?")?;
        let mut rows = find.query([stream.n])?;
        while let Some(row) = rows.next()? {
            let Some(kind) = kind_of(row.get(1)?) else { continue };
            let entity = tarn_domain::streams::Entity { kind, id: Uuid::from_bytes(row.get(2)?) };
            write_state(&self.tx, row.get(0)?, room.state(entity).map(AsRef::as_ref))?;
        }
        Ok(())
    }
}

pub(super) fn memory_op(
    row: &Row<'_>,
    op: Op,
) -> Stored<(Op, Option<tarn_domain::streams::Acceptance>, u64)> {
    let accepted = acceptance(row.get(4)?, row.get(5)?, row.get(6)?);
    Ok((op, accepted, row.get::<_, Option<u64>>(7)?.unwrap_or(0)))
}
