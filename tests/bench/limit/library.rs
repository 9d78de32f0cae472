//! The insert as a program writes it with the library that the server uses: `insert_many`, once a batch.

use sea_orm::entity::prelude::*;
use sea_orm::{ConnectOptions, ConnectionTrait, Database as Opener, DatabaseConnection, Set};
use std::time::{Duration, Instant};
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tokio::runtime::{Builder, Runtime};

use super::{RECEIVED, Whose, as_the_server, like_ops, like_ops_postgres};
use crate::season::Written;

/// The table: the columns of `ops`.
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "limit_rows")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    stream: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    seq: i64,
    id: Uuid,
    device: Uuid,
    #[sea_orm(column_type = "Text")]
    body: String,
    by_account: Uuid,
    received: i64,
    decision: bool,
    chain: Option<Vec<u8>>,
    was: Option<Vec<u8>>,
}

/// None.
#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

/// A table and the connection that fills it.
pub struct Library {
    runtime: Runtime,
    open: DatabaseConnection,
    whose: Whose,
    seq: i64,
}

impl Library {
    /// Makes the table, on the disk (SQLite: in a file of its own beside the server's; PostgreSQL: in its database).
    pub fn open(database: &Database, whose: Whose) -> Self {
        let runtime = Builder::new_current_thread().enable_all().build().expect("a runtime can be made");
        let open = runtime.block_on(connect(database));
        Self { runtime, open, whose, seq: 0 }
    }

    /// Inserts a batch; how long it took, without what it takes to fill the rows.
    pub fn insert(&mut self, ops: &[Written]) -> Duration {
        let Whose { stream, device } = self.whose;
        let (first, last) = (self.seq, self.seq + ops.len() as i64);
        self.seq = last;
        let rows = ops.iter().zip(first + 1..).map(|(op, seq)| ActiveModel {
            stream: Set(stream),
            seq: Set(seq),
            id: Set(op.id),
            device: Set(device),
            body: Set(op.text.clone()),
            by_account: Set(device),
            received: Set(RECEIVED + first),
            decision: Set(false),
            chain: Set((seq == last).then(|| vec![7; 32])),
            was: Set(None),
        });
        let rows: Vec<ActiveModel> = rows.collect();
        let begun = Instant::now();
        let inserted = Entity::insert_many(rows).exec_without_returning(&self.open);
        self.runtime.block_on(inserted).expect("the rows go in");
        begun.elapsed()
    }
}

async fn connect(database: &Database) -> DatabaseConnection {
    let (url, made) = match database.engine() {
        Engine::Sqlite => {
            let file = database.folder().join("limit-rows.sqlite");
            (format!("sqlite://{}?mode=rwc", file.display()), vec![like_ops(database, "limit_rows").await])
        }
        Engine::Postgres => (database.open_url(), like_ops_postgres("limit_rows").to_vec()),
    };
    let mut options = ConnectOptions::new(url);
    options.sqlx_logging(false).max_connections(1).map_sqlx_sqlite_opts(as_the_server);
    let open = Opener::connect(options).await.expect("it opens");
    for statement in made {
        open.execute_unprepared(&statement).await.expect("a table like ops");
    }
    open
}
