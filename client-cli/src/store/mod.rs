//! The one local file of an account: ops, what they touch, the folded states, and notes that stay here.
//! The only module that knows SQLite. Decides nothing about ops; what counts is `tarn_domain`'s.

mod error;
mod fold;
mod history;
mod inbox;
mod look;
mod mend;
mod notes;
mod ops;
mod outbox;
mod quarantine;
mod readings;
mod rebuild;
mod record;
mod schema;
mod settings;
mod shelf;
mod streams;

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};

pub use error::{StoreError, Stored};
pub use history::{HistoryLine, Standing};
pub use inbox::{Brought, HistoryChange, Pulled};
pub use look::Named;
pub use mend::Mended;
pub use notes::HereOnly;
pub use ops::OpState;
pub use outbox::{Answer, Answered, OutReceipt, Outgoing, Refused};
pub use readings::Readings;
pub use record::{NewOp, Recorded};
pub use streams::{GONE, NewStream, StreamRow};

/// The open file.
#[derive(Debug)]
pub struct Store {
    db: Connection,
    path: PathBuf,
}

/// A local transaction: all of it or nothing.
#[derive(Debug)]
pub struct Work<'t> {
    tx: Transaction<'t>,
}

impl Store {
    /// Opens the file, makes it if it isn't there. One that is marked read-only is opened for reading.
    ///
    /// # Errors
    /// When it can be neither made nor read.
    pub fn open(path: &Path) -> Stored<Self> {
        let read_only = std::fs::metadata(path).is_ok_and(|file| file.permissions().readonly());
        let mut db = if read_only { open_to_read(path)? } else { Connection::open(path)? };
        db.busy_timeout(Duration::from_secs(20))?;
        db.set_prepared_statement_cache_capacity(64);
        db.execute_batch("PRAGMA synchronous = FULL; PRAGMA cache_size = -32000;")?;
        if !read_only {
            schema::prepare(&mut db)?;
        }
        let store = Self { db, path: path.to_owned() };
        if let Some(pages) = std::env::var("TARN_MAX_PAGES").ok().and_then(|n| n.parse().ok()) {
            store.limit_pages(pages)?;
        }
        Ok(store)
    }

    /// Lets the file grow no further than that many pages: a full disk, for tests (TARN_MAX_PAGES).
    ///
    /// # Errors
    /// The file.
    pub fn limit_pages(&self, pages: u32) -> Stored {
        Ok(self.db.query_row(&format!("PRAGMA max_page_count = {pages}"), [], |_| Ok(()))?)
    }

    /// A number that changes when another process writes, and never by what this one does.
    ///
    /// # Errors
    /// The file.
    pub fn data_version(&self) -> Stored<i64> {
        Ok(self.db.query_row("PRAGMA data_version", [], |row| row.get(0))?)
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Runs one local transaction. If it fails, nothing of it is there.
    ///
    /// # Errors
    /// What `work` says, or the file.
    pub fn write<T, E: From<StoreError>>(
        &mut self,
        work: impl FnOnce(&Work<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        let tx =
            self.db.transaction_with_behavior(TransactionBehavior::Immediate).map_err(StoreError::from)?;
        let work_of = Work { tx };
        let made = work(&work_of)?;
        work_of.tx.commit().map_err(StoreError::from)?;
        Ok(made)
    }
}

/// A file on a read-only medium has no place for SQLite's own files beside it; then it can't change either.
fn open_to_read(path: &Path) -> Stored<Connection> {
    let flags =
        OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let readable = |db: &Connection| db.query_row("SELECT count(*) FROM streams", [], |_| Ok(())).is_ok();
    let db = Connection::open_with_flags(path, flags)?;
    if readable(&db) {
        return Ok(db);
    }
    let escaped = path.to_string_lossy().replace('%', "%25").replace('?', "%3f").replace('#', "%23");
    Ok(Connection::open_with_flags(format!("file:{escaped}?immutable=1"), flags)?)
}
