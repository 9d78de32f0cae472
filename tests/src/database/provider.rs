//! Which PostgreSQL this run uses. In order: `TEST_DATABASE_URL`; a container, when an engine answers and the image is
//! there or can be had; a private cluster from the PostgreSQL programs of this machine. None of them fails the run.

use super::{admin, cluster};
use crate::place;
use std::fs::File;
use std::io::Write;
use std::path::PathBuf;
use std::sync::OnceLock;

/// A PostgreSQL server that tests may make databases on.
#[derive(Debug, Clone)]
pub struct Found {
    /// Address of its maintenance database, as a superuser.
    pub url: String,
    /// In words, for the run's log.
    pub what: String,
}

/// Its address. The first call finds or starts it and says which it is.
pub fn postgres() -> &'static str {
    static FOUND: OnceLock<Found> = OnceLock::new();
    &FOUND.get_or_init(find).url
}

fn find() -> Found {
    // shared for the life of the process: whoever gets it alone may end the server (see `cluster`)
    static IN_USE: OnceLock<File> = OnceLock::new();
    let users = open("users");
    users.lock_shared().expect("a file can be locked");
    let _ = IN_USE.set(users);

    let _one_at_a_time = locked("start");
    let found = if let Ok(url) = std::env::var("TEST_DATABASE_URL") {
        Found { what: "TEST_DATABASE_URL".into(), url }
    } else if let Some(running) = running() {
        running
    } else {
        let started = container().or_else(|no_container| {
            cluster::start()
                .map_err(|no_cluster| format!("no container ({no_container}); no cluster ({no_cluster})"))
        });
        match started {
            Ok(found) => found,
            Err(why) => panic!(
                "no PostgreSQL for the tests: {why}. Install PostgreSQL, or set TEST_DATABASE_URL, or run `tests/run --sqlite-only`"
            ),
        }
    };
    // the test harness catches the macros' output; this line is for the run's log
    let _ = writeln!(std::io::stderr(), "PostgreSQL for the tests: {}", found.what);
    std::fs::write(shelf().join("used"), format!("{}\n", found.what)).expect("the note can be written");
    found
}

/// One that an earlier process of this run started, if it still answers.
fn running() -> Option<Found> {
    let url = std::fs::read_to_string(shelf().join("url")).ok()?;
    let what = std::fs::read_to_string(shelf().join("what")).ok()?;
    admin::try_execute(&url, &["SELECT 1"]).ok()?;
    Some(Found { url, what })
}

/// Leaves word for the other processes and for `tests/run`, which ends it by `what is in `end``.
pub fn leave_word(found: &Found, end: &str) {
    for (name, text) in [("url", found.url.as_str()), ("what", &found.what), ("end", end)] {
        std::fs::write(shelf().join(name), text).expect("the note can be written");
    }
}

/// The folder of notes and locks.
pub fn shelf() -> PathBuf {
    place::shelf("test-postgres")
}

fn open(name: &str) -> File {
    let path = shelf().join(format!("{name}.lock"));
    File::options()
        .create(true)
        .append(true)
        .open(&path)
        .unwrap_or_else(|e| panic!("cannot open {}: {e}", path.display()))
}

/// A file lock that this process alone holds until the file is dropped.
pub fn locked(name: &str) -> File {
    let file = open(name);
    file.lock().expect("a file can be locked");
    file
}

#[cfg(feature = "containers")]
fn container() -> Result<Found, String> {
    super::container::start()
}

#[cfg(not(feature = "containers"))]
fn container() -> Result<Found, String> {
    Err("built without the feature `containers`".into())
}
