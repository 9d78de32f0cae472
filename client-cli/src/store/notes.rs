//! Notes that stay on this device.

use rusqlite::params;
use tarn_domain::streams::{At, Entity};

use super::shelf::SqlShelf;
use super::{Store, Stored, StreamRow, Work};

/// A note that is never sent.
#[derive(Debug, Clone)]
pub struct HereOnly {
    /// When.
    pub at: At,
    /// The words.
    pub text: String,
}

impl Work<'_> {
    /// Keeps a note here.
    ///
    /// # Errors
    /// The file.
    pub fn note_here(&self, stream: &StreamRow, about: Option<Entity>, at: At, text: &str) -> Stored {
        let about = match about {
            Some(entity) => SqlShelf::new(&self.tx, stream.n).entity(entity)?,
            None => None,
        };
        let mut add = self.tx.prepare_cached("INSERT INTO notes VALUES (NULL, ?, ?, ?, ?)")?;
        add.execute(params![stream.n, about, at.seconds(), text])?;
        Ok(())
    }
}

impl Store {
    /// The notes kept here, about one thing or all, oldest first.
    ///
    /// # Errors
    /// The file.
    pub fn notes_here(&self, stream: &StreamRow, about: Option<Entity>) -> Stored<Vec<HereOnly>> {
        let about = match about {
            Some(entity) => match SqlShelf::new(&self.db, stream.n).entity(entity)? {
                Some(row) => Some(row),
                None => return Ok(Vec::new()),
            },
            None => None,
        };
        let mut find = self.db.prepare_cached(
            "SELECT at, text FROM notes WHERE stream = ?1 AND (?2 IS NULL OR entity = ?2) ORDER BY at, n",
        )?;
        let rows = find.query_map(params![stream.n, about], |row| {
            Ok(HereOnly { at: At::from_seconds(row.get(0)?), text: row.get(1)? })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}
