//! The connection to SQLite or PostgreSQL, and reading from it.
//!
//! Writing goes through `write.rs` and nothing else; SQL that differs between the engines stands in `dialect.rs`.

use std::sync::Arc;
use std::time::Duration;

use sea_orm::sqlx::Connection;
use sea_orm::sqlx::sqlite::{SqliteJournalMode, SqliteSynchronous};
use sea_orm::{
    AccessMode, ConnectOptions, Database, DatabaseConnection, DatabaseTransaction, DbBackend, DbErr,
    IsolationLevel, TransactionOptions, TransactionTrait,
};
use sea_orm_migration::MigratorTrait;
use tokio::sync::{Mutex, OwnedMutexGuard};

use super::dialect;

const BUSY: Duration = Duration::from_secs(10);
/// A connection that was used a moment ago is there; asking it again each time costs a round trip.
const ASK_AFTER: Duration = Duration::from_secs(1);
/// SQLite: after so many pages of the log the file itself is written. A push writes many pages that the next one
/// writes again; four times SQLite's own number saves most of that, and the log has 16 MiB at most.
const CHECKPOINT_PAGES: &str = "4000";
/// SQLite: what a connection keeps of the file (negative: KiB). Its own 2 MiB do not hold the trees that a push in a
/// large room changes.
const CACHE_KIB: &str = "-8000";
/// PostgreSQL: what a transaction sees unless it says otherwise.
const READ_COMMITTED: (&str, &str) = ("default_transaction_isolation", "read committed");
/// The most connections for reading.
const READERS: u32 = 8;
/// The most for writing. SQLite has one writer; a second connection would read anew all that the first has written.
const WRITERS: u32 = 6;
const WRITERS_OF_SQLITE: u32 = 1;

/// The database of this process.
#[derive(Clone)]
pub struct Db {
    /// For reads of one query. Several that must agree go through [`Db::snapshot`].
    pub conn: DatabaseConnection,
    /// For writes, apart from reading: a write may wait for a room's state that a reader holds, so it must never
    /// have taken the connection that this reader needs.
    pub(super) writes: DatabaseConnection,
    writer: Arc<Mutex<()>>,
}

impl Db {
    /// Connects, and brings the tables up to date.
    pub async fn open(url: &str) -> Result<Self, DbErr> {
        let conn = connect(url, READERS, false).await?;
        let sqlite = conn.get_database_backend() == DbBackend::Sqlite;
        let writers = if sqlite { WRITERS_OF_SQLITE } else { WRITERS };
        let writes = connect(url, writers, true).await?;
        let db = Self { conn, writes, writer: Arc::default() };
        db.migrate().await?;
        Ok(db)
    }

    /// Whether it is SQLite.
    pub fn is_sqlite(&self) -> bool {
        self.conn.get_database_backend() == DbBackend::Sqlite
    }

    /// A read-only transaction: all its queries see the same moment.
    #[allow(clippy::disallowed_methods, reason = "reading only")]
    pub async fn snapshot(&self) -> Result<DatabaseTransaction, DbErr> {
        let options = if self.is_sqlite() {
            TransactionOptions::default()
        } else {
            TransactionOptions {
                isolation_level: Some(IsolationLevel::RepeatableRead),
                access_mode: Some(AccessMode::ReadOnly),
                sqlite_transaction_mode: None,
            }
        };
        self.conn.begin_with_options(options).await
    }

    /// On SQLite, the one writer of this process: waiting here is fair and cheap, in SQLite's own busy handler
    /// it is neither.
    pub(super) async fn writer(&self) -> Option<OwnedMutexGuard<()>> {
        if self.is_sqlite() { Some(self.writer.clone().lock_owned().await) } else { None }
    }

    #[allow(clippy::disallowed_methods, reason = "several processes may start at once; only one may migrate")]
    async fn migrate(&self) -> Result<(), DbErr> {
        let gate = self.conn.begin().await?;
        dialect::lock_for_migration(&gate).await?;
        tarn_migrations::Migrator::up(&self.conn, None).await?;
        gate.commit().await
    }
}

async fn connect(url: &str, most: u32, writes: bool) -> Result<DatabaseConnection, DbErr> {
    let mut options = ConnectOptions::new(url);
    options.sqlx_logging(false).max_connections(most).acquire_timeout(Duration::from_secs(30));
    options.test_before_acquire_if_idle_for(ASK_AFTER);
    if url.starts_with("sqlite:") {
        // Pragmas belong to each connection. FULL, since an acknowledged op must survive a power cut.
        options.map_sqlx_sqlite_opts(|sqlite| {
            sqlite
                .journal_mode(SqliteJournalMode::Wal)
                .synchronous(SqliteSynchronous::Full)
                .foreign_keys(true)
                .busy_timeout(BUSY)
                .pragma("wal_autocheckpoint", CHECKPOINT_PAGES)
                .pragma("cache_size", CACHE_KIB)
                // What a statement may have to undo is kept in memory: a push changes little enough.
                .pragma("temp_store", "memory")
        });
    }
    if writes {
        // On a full disk SQLite ends the transaction by itself; the rollback that follows then fails, and the driver still
        // counts one as open: what came next would be answered and never committed. Such a connection is closed.
        options.map_sqlx_sqlite_pool_opts(|pool| {
            pool.after_release(|conn, _| Box::pin(async move { Ok(!conn.is_in_transaction()) }))
        });
    }
    // Said once a connection instead of once a transaction.
    options.map_sqlx_postgres_opts(|postgres| postgres.options([READ_COMMITTED]));
    Database::connect(options).await
}
