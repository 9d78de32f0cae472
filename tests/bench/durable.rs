//! A PostgreSQL that waits for its disk: the cluster of the tests does not, so it is told to for as long as a driver
//! runs. One that is not ours (`TEST_DATABASE_URL`) is left as it is, and refused if it does not wait.

use sea_orm::sqlx::postgres::{PgConnectOptions, PgConnection};
use sea_orm::sqlx::{AssertSqlSafe, ConnectOptions, Executor, Row, query};
use tarn_tests::database::Database;
use tokio::runtime::{Builder, Runtime};

const SETTINGS: [&str; 3] = ["fsync", "full_page_writes", "synchronous_commit"];

/// While it lives, the cluster of this database waits for its disk.
pub struct Durable {
    runtime: Runtime,
    open: PgConnection,
    changed: bool,
}

impl Durable {
    /// Tells it to.
    pub fn make(database: &Database) -> Self {
        let runtime = Builder::new_current_thread().enable_all().build().expect("a runtime can be made");
        let at: PgConnectOptions = database.open_url().parse().expect("an address");
        let open = runtime.block_on(at.connect()).expect("PostgreSQL answers");
        let mut durable = Self { runtime, open, changed: false };
        if SETTINGS.iter().any(|name| durable.show(name) == "off") {
            assert!(
                std::env::var_os("TEST_DATABASE_URL").is_none(),
                "this PostgreSQL does not wait for its disk"
            );
            durable.changed = true;
            for name in SETTINGS {
                durable.run(&format!("ALTER SYSTEM SET {name} = on"));
            }
            durable.run("SELECT pg_reload_conf()");
            // the reload reaches this connection between two statements
            while SETTINGS.iter().any(|name| durable.show(name) == "off") {
                std::thread::yield_now();
            }
        }
        durable
    }

    fn show(&mut self, name: &str) -> String {
        let row =
            self.runtime.block_on(query(AssertSqlSafe(format!("SHOW {name}"))).fetch_one(&mut self.open));
        row.expect("a setting").get(0)
    }

    fn run(&mut self, statement: &str) {
        self.runtime.block_on(self.open.execute(AssertSqlSafe(statement))).expect("it may be set");
    }
}

impl Drop for Durable {
    fn drop(&mut self) {
        if self.changed {
            for name in SETTINGS {
                self.run(&format!("ALTER SYSTEM RESET {name}"));
            }
            self.run("SELECT pg_reload_conf()");
        }
    }
}
