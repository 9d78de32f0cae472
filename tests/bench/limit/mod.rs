//! What the database alone can do: the same op rows, many a statement, one transaction each, into one table with the
//! columns and the primary key of `ops` and nothing else; one connection, as durable as the server's. Measured
//! twice: through the library that the server writes with, and by a statement prepared by hand.

mod library;
mod prepared;

pub use library::Library;
pub use prepared::Prepared;
use sea_orm::sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqliteSynchronous};
use sea_orm::sqlx::{ConnectOptions, Connection, Row, query};
use tarn_tests::database::Database;
use uuid::Uuid;

/// The columns of a row.
const COLUMNS: usize = 9;
/// When a row says that it was received.
const RECEIVED: i64 = 1_760_000_000_000;

/// Whose rows they are.
#[derive(Clone, Copy)]
pub struct Whose {
    /// The stream.
    pub stream: Uuid,
    /// The device.
    pub device: Uuid,
}

/// SQLite's statement that makes the table `ops`, under another name.
async fn like_ops(database: &Database, name: &str) -> String {
    let like: SqliteConnectOptions = database.open_url().parse().expect("an address");
    let mut server = like.connect().await.expect("the server's file");
    let made = query("SELECT sql FROM sqlite_master WHERE type = 'table' AND name = 'ops'");
    let made: String = made.fetch_one(&mut server).await.expect("there is a table of ops").get(0);
    server.close().await.expect("it closes");
    made.replacen("\"ops\"", name, 1)
}

/// PostgreSQL's.
fn like_ops_postgres(name: &str) -> [String; 2] {
    [
        format!("CREATE TABLE {name} (LIKE ops INCLUDING DEFAULTS)"),
        format!("ALTER TABLE {name} ADD PRIMARY KEY (stream, seq)"),
    ]
}

/// How the server opens its file.
fn as_the_server(file: SqliteConnectOptions) -> SqliteConnectOptions {
    let file = file.journal_mode(SqliteJournalMode::Wal).synchronous(SqliteSynchronous::Full);
    file.foreign_keys(true)
        .pragma("wal_autocheckpoint", "4000")
        .pragma("cache_size", "-8000")
        .pragma("temp_store", "memory")
}
