//! What the database alone can do: the same op rows, many a statement, one transaction each, into one table with the
//! columns and the primary key of `ops` and nothing else; one connection, prepared once, as durable as the server's.

use sea_orm::sqlx::postgres::{PgConnectOptions, PgConnection};
use sea_orm::sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqliteSynchronous};
use sea_orm::sqlx::{AssertSqlSafe, ConnectOptions, Connection, Executor, Row, query};
use std::time::{Duration, Instant};
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tokio::runtime::{Builder, Runtime};
use uuid::Uuid;

use crate::season::Written;

const COLUMNS: usize = 9;

enum Open {
    Sqlite(SqliteConnection),
    Postgres(PgConnection),
}

/// A table and the connection that fills it.
pub struct Limit {
    runtime: Runtime,
    open: Open,
    insert: String,
    rows: usize,
    seq: i64,
    stream: Uuid,
    device: Uuid,
}

impl Limit {
    /// Makes the table, on the disk (SQLite: in a file of its own beside the server's; PostgreSQL: in its database).
    pub fn open(database: &Database, stream: Uuid, device: Uuid, rows: usize) -> Self {
        let runtime = Builder::new_current_thread().enable_all().build().expect("a runtime can be made");
        let open = runtime.block_on(async {
            match database.engine() {
                Engine::Sqlite => Open::Sqlite(sqlite(database).await),
                Engine::Postgres => Open::Postgres(postgres(database).await),
            }
        });
        // SQLite looks up a `$1` by its name, one by one; a `?` has none
        let sign =
            |n: usize| if database.engine() == Engine::Sqlite { "?".to_owned() } else { format!("${n}") };
        let row = |n: usize| {
            let values: Vec<String> = (1..=COLUMNS).map(|c| sign(n * COLUMNS + c)).collect();
            format!("({})", values.join(","))
        };
        let values: Vec<String> = (0..rows).map(row).collect();
        let insert = format!(
            "INSERT INTO limit_ops (stream, seq, id, device, body, by_account, received, decision, chain) VALUES {}",
            values.join(",")
        );
        Self { runtime, open, insert, rows, seq: 0, stream, device }
    }

    /// Inserts a batch; how long it took.
    pub fn insert(&mut self, ops: &[Written]) -> Duration {
        assert_eq!(ops.len(), self.rows);
        let (first, last) = (self.seq, self.seq + self.rows as i64);
        self.seq = last;
        macro_rules! filled {
            () => {{
                let mut insert = query(AssertSqlSafe(self.insert.as_str()));
                for (op, seq) in ops.iter().zip(first + 1..) {
                    insert = insert.bind(self.stream).bind(seq).bind(op.id).bind(self.device);
                    insert =
                        insert.bind(op.text.as_str()).bind(self.device).bind(1_760_000_000_000_i64 + first);
                    insert = insert.bind(false).bind((seq == last).then(|| vec![7_u8; 32]));
                }
                insert
            }};
        }
        let begun = Instant::now();
        match &mut self.open {
            Open::Sqlite(open) => self.runtime.block_on(filled!().execute(open)).map(drop),
            Open::Postgres(open) => self.runtime.block_on(filled!().execute(open)).map(drop),
        }
        .expect("the rows go in");
        begun.elapsed()
    }
}

async fn sqlite(database: &Database) -> SqliteConnection {
    let like: SqliteConnectOptions = database.open_url().parse().expect("an address");
    let mut server = like.connect().await.expect("the server's file");
    let made = query("SELECT sql FROM sqlite_master WHERE type = 'table' AND name = 'ops'");
    let made: String = made.fetch_one(&mut server).await.expect("there is a table of ops").get(0);
    server.close().await.expect("it closes");
    let file =
        SqliteConnectOptions::new().filename(database.folder().join("limit.sqlite")).create_if_missing(true);
    let file =
        file.journal_mode(SqliteJournalMode::Wal).synchronous(SqliteSynchronous::Full).foreign_keys(true);
    let mut open = file.connect().await.expect("a file");
    let made = made.replacen("\"ops\"", "limit_ops", 1);
    open.execute(AssertSqlSafe(made)).await.expect("a table like ops");
    open
}

async fn postgres(database: &Database) -> PgConnection {
    let like: PgConnectOptions = database.open_url().parse().expect("an address");
    let mut open = like.connect().await.expect("the server's database");
    for statement in [
        "CREATE TABLE limit_ops (LIKE ops INCLUDING DEFAULTS)",
        "ALTER TABLE limit_ops ADD PRIMARY KEY (stream, seq)",
    ] {
        open.execute(statement).await.expect("a table like ops");
    }
    open
}
