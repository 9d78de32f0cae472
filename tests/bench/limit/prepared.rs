//! The insert by a statement that is put together and prepared once, its values bound by hand: the least that one
//! connection can spend on it.

use sea_orm::sqlx::postgres::{PgConnectOptions, PgConnection};
use sea_orm::sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sea_orm::sqlx::{AssertSqlSafe, ConnectOptions, Executor, query};
use std::time::{Duration, Instant};
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tokio::runtime::{Builder, Runtime};

use super::{COLUMNS, RECEIVED, Whose, as_the_server, like_ops, like_ops_postgres};
use crate::season::Written;

enum Open {
    Sqlite(SqliteConnection),
    Postgres(PgConnection),
}

/// A table and the connection that fills it.
pub struct Prepared {
    runtime: Runtime,
    open: Open,
    insert: String,
    rows: usize,
    seq: i64,
    whose: Whose,
}

impl Prepared {
    /// Makes the table, on the disk (SQLite: in a file of its own beside the server's; PostgreSQL: in its database).
    pub fn open(database: &Database, whose: Whose, rows: usize) -> Self {
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
            "INSERT INTO limit_prepared (stream, seq, id, device, body, by_account, received, decision, chain) VALUES {}",
            values.join(",")
        );
        Self { runtime, open, insert, rows, seq: 0, whose }
    }

    /// Inserts a batch; how long it took.
    pub fn insert(&mut self, ops: &[Written]) -> Duration {
        assert_eq!(ops.len(), self.rows);
        let Whose { stream, device } = self.whose;
        let (first, last) = (self.seq, self.seq + self.rows as i64);
        self.seq = last;
        macro_rules! filled {
            () => {{
                let mut insert = query(AssertSqlSafe(self.insert.as_str()));
                for (op, seq) in ops.iter().zip(first + 1..) {
                    insert = insert.bind(stream).bind(seq).bind(op.id).bind(device);
                    insert = insert.bind(op.text.as_str()).bind(device).bind(RECEIVED + first);
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
    let made = like_ops(database, "limit_prepared").await;
    let file = database.folder().join("limit-prepared.sqlite");
    let file = SqliteConnectOptions::new().filename(file).create_if_missing(true);
    let mut open = as_the_server(file).connect().await.expect("a file");
    open.execute(AssertSqlSafe(made)).await.expect("a table like ops");
    open
}

async fn postgres(database: &Database) -> PgConnection {
    let like: PgConnectOptions = database.open_url().parse().expect("an address");
    let mut open = like.connect().await.expect("the server's database");
    for statement in like_ops_postgres("limit_prepared") {
        open.execute(AssertSqlSafe(statement)).await.expect("a table like ops");
    }
    open
}
