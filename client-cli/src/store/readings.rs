//! Readings of the water that count, as they were logged.

use rusqlite::params;
use tarn_domain::rooms::ops::WaterRead;
use tarn_domain::streams::{At, Entity, OpId};

use super::ops::op_of;
use super::shelf::SqlShelf;
use super::{Store, Stored, StreamRow};

/// One entry of readings.
#[derive(Debug, Clone)]
pub struct Readings {
    /// The entry.
    pub id: OpId,
    /// When it was so.
    pub at: At,
    /// What was read, and of what.
    pub read: WaterRead,
}

impl Store {
    /// The newest readings about one tank or system that count, the newest first.
    ///
    /// # Errors
    /// The file.
    pub fn readings(&self, stream: &StreamRow, about: Entity, most: usize) -> Stored<Vec<Readings>> {
        let Some(thing) = SqlShelf::new(&self.db, stream.n).entity(about)? else { return Ok(Vec::new()) };
        let most = i64::try_from(most).unwrap_or(i64::MAX);
        let mut find = self.db.prepare_cached(
            "SELECT o.text FROM touches t JOIN ops o ON o.n = t.op
             WHERE t.entity = ? AND t.role = 3 AND o.kind IN ('water.read', 'water.logged') AND o.live
             ORDER BY t.at DESC, o.clock DESC, o.n DESC LIMIT ?",
        )?;
        let mut rows = find.query(params![thing, most])?;
        let mut all = Vec::new();
        while let Some(row) = rows.next()? {
            let op = op_of(row.get_ref(0)?.as_str().map_err(rusqlite::Error::from)?);
            let read = op.and_then(|op| Some((op.id, op.at, op.body.water()?.into_owned())));
            all.extend(read.map(|(id, at, read)| Readings { id, at, read }));
        }
        Ok(all)
    }
}
