//! A database for each test: a copy of a template that was migrated once, dropped when the test succeeds, kept and
//! named when it fails. Where PostgreSQL comes from is decided in `provider`; no rule of the server is known here.

mod admin;
mod cluster;
#[cfg(feature = "containers")]
mod container;
mod postgres;
mod provider;
mod sqlite;
mod template;

use crate::engine::Engine;
use crate::place::{self, Folder};
use std::path::Path;
use uuid::Uuid;

/// A database of one's own and the data folder that goes with it.
#[derive(Debug)]
pub struct Database {
    engine: Engine,
    name: String,
    /// The server's `--data`. On SQLite the database lies in it.
    folder: Folder,
}

/// The bytes of a database at a moment, as a disk that is rolled back would have them.
#[derive(Debug)]
pub struct Snapshot {
    engine: Engine,
    name: String,
    folder: Option<Folder>,
}

impl Database {
    /// A copy of the migrated template.
    pub fn new(engine: Engine) -> Self {
        Self::make(engine, true)
    }

    /// Without a table in it, as `tarn-server restore` wants it.
    pub fn empty(engine: Engine) -> Self {
        Self::make(engine, false)
    }

    fn make(engine: Engine, migrated: bool) -> Self {
        let folder = Folder::new(&format!("server-{}", engine.name()));
        let name = format!("tarn_test_{}", place::unique());
        match (engine, migrated) {
            (Engine::Sqlite, true) => sqlite::copy_template(folder.path()),
            (Engine::Sqlite, false) => {}
            (Engine::Postgres, true) => postgres::create(&name, Some(&template::postgres())),
            (Engine::Postgres, false) => postgres::create(&name, None),
        }
        Self { engine, name, folder }
    }

    /// Which engine it is on.
    pub fn engine(&self) -> Engine {
        self.engine
    }

    /// What `DATABASE_URL` must be; `None` leaves the server to its embedded default in the data folder.
    pub fn url(&self) -> Option<String> {
        match self.engine {
            Engine::Sqlite => None,
            Engine::Postgres => Some(postgres::url(&self.name)),
        }
    }

    /// An address under which the test itself can open it.
    pub fn open_url(&self) -> String {
        match self.engine {
            Engine::Sqlite => sqlite::url(&sqlite::file(self.folder.path())),
            Engine::Postgres => postgres::url(&self.name),
        }
    }

    /// The server's data folder.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// Copies the database as it stands. No server may run on it.
    pub fn snapshot(&self) -> Snapshot {
        let name = format!("tarn_snap_{}", place::unique());
        let folder = match self.engine {
            Engine::Sqlite => {
                let folder = Folder::new("snapshot");
                sqlite::copy(self.folder.path(), folder.path());
                Some(folder)
            }
            Engine::Postgres => {
                postgres::create(&name, Some(&self.name));
                None
            }
        };
        Snapshot { engine: self.engine, name, folder }
    }

    /// Puts an earlier copy in the database's place, under the same address. No server may run on it.
    pub fn roll_back(&self, to: &Snapshot) {
        assert_eq!(self.engine, to.engine);
        match &to.folder {
            Some(folder) => {
                sqlite::remove(self.folder.path());
                sqlite::copy(folder.path(), self.folder.path());
            }
            None => {
                postgres::drop(&self.name);
                postgres::create(&self.name, Some(&to.name));
            }
        }
    }

    /// Empties it, so that a backup can be restored under the same address. No server may run on it.
    pub fn clear(&self) {
        match self.engine {
            Engine::Sqlite => sqlite::remove(self.folder.path()),
            Engine::Postgres => {
                postgres::drop(&self.name);
                postgres::create(&self.name, None);
            }
        }
    }

    /// Runs statements on it, one by one: for what a test must bend by hand.
    pub fn execute(&self, statements: &[&str]) {
        admin::execute(&self.open_url(), statements);
    }

    /// The one number that a `SELECT count(*)` on it gives.
    pub fn count(&self, query: &str) -> i64 {
        admin::count(&self.open_url(), query)
    }

    /// What a query over these ids (`$1` and so on) gives, whose rows are a number, an id and a text. One query sees
    /// one moment, whatever a server writes meanwhile.
    pub fn read(&self, query: &str, ids: &[Uuid]) -> Vec<(i64, Uuid, String)> {
        admin::read(&self.open_url(), query, ids)
    }
}

impl Drop for Database {
    fn drop(&mut self) {
        if self.engine == Engine::Postgres {
            if std::thread::panicking() {
                eprintln!("kept for a look: {}", postgres::url(&self.name));
            } else {
                postgres::drop(&self.name);
            }
        }
    }
}

impl Drop for Snapshot {
    fn drop(&mut self) {
        if self.engine == Engine::Postgres && !std::thread::panicking() {
            postgres::drop(&self.name);
        }
    }
}
