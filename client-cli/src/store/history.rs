//! The ops themselves, as people look back on them, and as they are exported.

use rusqlite::{OptionalExtension, Row, params};
use tarn_domain::catalogue::Op;
use tarn_domain::streams::{Entity, OpId};
use uuid::Uuid;

use super::ops::op_of;
use super::outbox::outgoing;
use super::shelf::SqlShelf;
use super::{OpState, Outgoing, Store, Stored, StreamRow};

/// Whether an op counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// It counts.
    Counts,
    /// It was taken back.
    TakenBack,
    /// It rests on something that does not count.
    Inert,
}

/// One op of a history.
#[derive(Debug, Clone)]
pub struct HistoryLine {
    /// Which.
    pub id: OpId,
    /// The op; none if a newer version is needed to understand it.
    pub op: Option<Op>,
    /// Its kind.
    pub kind: String,
    /// How far it has come.
    pub state: OpState,
    /// Whether it counts.
    pub standing: Standing,
    /// Whether it was written by this device.
    pub here: bool,
}

const LINE: &str = "o.id, o.text, o.kind, o.state, o.live, \
    EXISTS (SELECT 1 FROM withdrawals w WHERE w.stream = o.stream AND w.target = o.id)";

fn line(row: &Row<'_>, stream: &StreamRow) -> rusqlite::Result<HistoryLine> {
    let op = op_of(row.get_ref(1)?.as_str()?);
    let (live, taken_back): (bool, bool) = (row.get(4)?, row.get(5)?);
    let standing = match (live, taken_back) {
        (true, _) => Standing::Counts,
        (false, true) => Standing::TakenBack,
        (false, false) => Standing::Inert,
    };
    Ok(HistoryLine {
        id: OpId(Uuid::from_bytes(row.get(0)?)),
        here: op.as_ref().is_some_and(|op| op.device == stream.device),
        op,
        kind: row.get(2)?,
        state: row.get(3)?,
        standing,
    })
}

impl Store {
    /// The latest ops of a stream, or those that speak of one thing, the latest first.
    ///
    /// # Errors
    /// The file.
    pub fn history(
        &self,
        stream: &StreamRow,
        about: Option<Entity>,
        most: usize,
    ) -> Stored<Vec<HistoryLine>> {
        let most = i64::try_from(most).unwrap_or(i64::MAX);
        let mut lines = Vec::new();
        match about {
            Some(entity) => {
                let Some(thing) = SqlShelf::new(&self.db, stream.n).entity(entity)? else { return Ok(lines) };
                let mut find = self.db.prepare_cached(&format!(
                    "SELECT {LINE} FROM (SELECT op, at FROM touches WHERE entity = ? ORDER BY at DESC, op DESC LIMIT ?) t
                     JOIN ops o ON o.n = t.op ORDER BY o.at DESC, o.clock DESC, o.n DESC"
                ))?;
                let mut rows = find.query(params![thing, most])?;
                while let Some(row) = rows.next()? {
                    lines.push(line(row, stream)?);
                }
            }
            None => {
                let mut find = self.db.prepare_cached(&format!(
                    "SELECT {LINE} FROM (SELECT n FROM ops WHERE stream = ? ORDER BY n DESC LIMIT ?) t
                     JOIN ops o ON o.n = t.n ORDER BY o.n DESC"
                ))?;
                let mut rows = find.query(params![stream.n, most])?;
                while let Some(row) = rows.next()? {
                    lines.push(line(row, stream)?);
                }
            }
        }
        Ok(lines)
    }

    /// The local number of what came here last.
    ///
    /// # Errors
    /// The file.
    pub fn newest(&self) -> Stored<i64> {
        let mut find = self.db.prepare_cached("SELECT coalesce(max(n), 0) FROM ops")?;
        Ok(find.query_row([], |row| row.get(0))?)
    }

    /// What others wrote and a pull brought since then, in the order in which it came; and how many there are.
    ///
    /// # Errors
    /// The file.
    pub fn came_since(
        &self,
        stream: &StreamRow,
        newest: i64,
        most: usize,
    ) -> Stored<(Vec<HistoryLine>, u64)> {
        let mut find = self.db.prepare_cached(&format!(
            "SELECT {LINE} FROM ops o WHERE o.n > ? AND o.stream = ? AND o.state = ? ORDER BY o.n"
        ))?;
        let mut rows = find.query(params![newest, stream.n, OpState::Accepted])?;
        let (mut lines, mut count) = (Vec::new(), 0);
        while let Some(row) = rows.next()? {
            let one = line(row, stream)?;
            if !one.here {
                count += 1;
                lines.extend((lines.len() < most).then_some(one));
            }
        }
        Ok((lines, count))
    }

    /// One op, by its whole id or the end of it.
    ///
    /// # Errors
    /// The file.
    pub fn op_by_id(&self, stream: &StreamRow, id: OpId) -> Stored<Option<HistoryLine>> {
        let mut find =
            self.db.prepare_cached(&format!("SELECT {LINE} FROM ops o WHERE o.stream = ? AND o.id = ?"))?;
        Ok(find.query_row(params![stream.n, id.0.as_bytes()], |row| line(row, stream)).optional()?)
    }

    /// The ids of ops whose text form begins or ends so.
    ///
    /// # Errors
    /// The file.
    pub fn ops_spelled(&self, stream: &StreamRow, part: &str) -> Stored<Vec<OpId>> {
        let plain: String = part.chars().filter(|c| *c != '-').collect();
        if plain.len() < 4 || !plain.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Ok(Vec::new());
        }
        let mut find = self.db.prepare_cached(
            "SELECT id FROM ops WHERE stream = ?1 AND (hex(id) LIKE ?2 || '%' OR hex(id) LIKE '%' || ?2) LIMIT 3",
        )?;
        let rows = find.query_map(params![stream.n, plain], |row| row.get::<_, [u8; 16]>(0))?;
        Ok(rows.map(|id| id.map(|b| OpId(Uuid::from_bytes(b)))).collect::<Result<_, _>>()?)
    }

    /// Hands over every op of a stream that was not refused, accepted ones first, in their order, with their receipts.
    ///
    /// # Errors
    /// The file, or what `each` says.
    pub fn each_op<E: From<super::StoreError>>(
        &self,
        stream: &StreamRow,
        mut each: impl FnMut(Option<u64>, Outgoing) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut go = || -> Result<Result<(), E>, rusqlite::Error> {
            let mut find = self.db.prepare(
                "SELECT id, text, by_account, received, decision, receipt, was, seq FROM ops
                 WHERE stream = ? AND state <> 4 ORDER BY seq IS NULL, seq, clock, id",
            )?;
            let mut rows = find.query([stream.n])?;
            while let Some(row) = rows.next()? {
                if let Err(error) = each(row.get(7)?, outgoing(row)?) {
                    return Ok(Err(error));
                }
            }
            Ok(Ok(()))
        };
        go().map_err(super::StoreError::from)?
    }
}
