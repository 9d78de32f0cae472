//! The real `tarn-server` as a process: started on a free port, killed, started again on the same data.

use crate::database::Database;
use crate::engine::Engine;
use crate::place;
use crate::process::{self, Ran};
use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;

/// A server with a database of its own. Ends with the test.
#[derive(Debug)]
pub struct Server {
    database: Arc<Database>,
    clock_offset: Option<String>,
    settings: Vec<(String, String)>,
    /// `127.0.0.1:0` at first; the port stays the same from the first start on.
    listen: String,
    running: Option<Child>,
}

impl Server {
    /// One that runs, on a copy of the migrated template.
    pub fn start(engine: Engine) -> Self {
        let mut server = Self::prepare(Database::new(engine));
        server.start_again();
        server
    }

    /// One that runs with its clock put forward, as in `21d`.
    pub fn start_at(engine: Engine, clock_offset: &str) -> Self {
        let mut server = Self::prepare(Database::new(engine));
        server.set_clock(clock_offset);
        server.start_again();
        server
    }

    /// One that does not run yet, on a given database.
    pub fn prepare(database: Database) -> Self {
        Self {
            database: Arc::new(database),
            clock_offset: None,
            settings: Vec::new(),
            listen: "127.0.0.1:0".into(),
            running: None,
        }
    }

    /// Another process of the same server, on the same database; it runs. Only PostgreSQL has several.
    pub fn beside(&self) -> Self {
        let mut other = self.alike();
        other.start_again();
        other
    }

    /// The same with a port of its own, which does not run yet.
    pub fn alike(&self) -> Self {
        Self {
            database: self.database.clone(),
            clock_offset: self.clock_offset.clone(),
            settings: self.settings.clone(),
            listen: "127.0.0.1:0".into(),
            running: None,
        }
    }

    /// Comes to stand on another database, under the same address; the old one goes. It must not run.
    pub fn move_to(&mut self, database: Database) {
        assert!(self.running.is_none(), "it runs");
        self.database = Arc::new(database);
    }

    /// Sets the clock offset of it and its commands from the next start on.
    pub fn set_clock(&mut self, offset: &str) {
        self.clock_offset = Some(offset.to_owned());
    }

    /// Sets a variable of its environment from the next start on.
    pub fn set(&mut self, name: &str, value: &str) {
        self.settings.push((name.to_owned(), value.to_owned()));
    }

    /// Its database. Snapshots and the like need it stopped.
    pub fn database(&self) -> &Database {
        &self.database
    }

    /// Which engine it is on.
    pub fn engine(&self) -> Engine {
        self.database.engine()
    }

    /// Where its metrics are read, as it logged; only if it was set to have any.
    pub fn metrics(&self) -> String {
        let logged = self.logged();
        let address = logged.rsplit("metrics at ").next().and_then(|rest| rest.lines().next());
        let address = address.filter(|a| a.starts_with("http://"));
        address.unwrap_or_else(|| panic!("no metrics: {logged}")).trim_end_matches("/metrics").to_owned()
    }

    /// Starts it, after `kill` or `stop` on the same port, and returns when it listens.
    pub fn start_again(&mut self) {
        assert!(self.running.is_none(), "it runs already");
        let log = File::options().create(true).append(true).open(self.log()).expect("the log can be written");
        let mut command = self.bare("serve");
        command.args(["--listen", &self.listen]);
        let line = process::shown(&command);
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(log);
        let mut child = command.spawn().unwrap_or_else(|e| panic!("cannot run `{line}`: {e}"));
        let mut said = BufReader::new(child.stdout.take().expect("stdout is a pipe"));
        let mut first = String::new();
        said.read_line(&mut first).expect("its stdout can be read");
        self.running = Some(child);
        let Some(address) = first.trim().strip_prefix("listening on http://") else {
            self.kill();
            panic!("`{line}` said {first:?} and not where it listens; its log:\n{}", self.logged());
        };
        self.listen = address.trim_end_matches('/').to_owned();
        // a full pipe would stop it
        std::thread::spawn(move || std::io::copy(&mut said, &mut std::io::sink()));
    }

    /// Takes another free port at the next start: the old one may be someone else's by then.
    pub fn leave_port(&mut self) {
        self.listen = "127.0.0.1:0".into();
    }

    /// `kill -9`; gone when this returns. Does nothing to one that does not run.
    pub fn kill(&mut self) {
        if let Some(mut child) = self.running.take() {
            process::kill(&mut child);
        }
    }

    /// Asks it to end and waits until it has.
    pub fn stop(&mut self) {
        if let Some(mut child) = self.running.take() {
            let status = process::terminate(&mut child);
            assert!(status.success(), "it ended with {status}; its log:\n{}", self.logged());
        }
    }

    /// Whether it still runs: a test may want to know that nothing made it fall over.
    pub fn runs(&mut self) -> bool {
        self.running.as_mut().is_some_and(|child| matches!(child.try_wait(), Ok(None)))
    }

    /// Host and port.
    pub fn address(&self) -> &str {
        &self.listen
    }

    /// An address on it; the path begins with a slash.
    pub fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.listen)
    }

    /// Another command of the same program on the same database: `officer add`, `backup`, `check` …
    pub fn command(&self, arguments: &[&str]) -> Ran {
        let (noun, rest) = arguments.split_first().expect("a command has a name");
        let mut command = self.bare(noun);
        process::run(command.args(rest).stdin(Stdio::null()))
    }

    fn bare(&self, noun: &str) -> Command {
        let mut command = Command::new(place::binary("tarn-server"));
        for (name, _) in std::env::vars_os().filter(|(name, _)| name.to_string_lossy().starts_with("TARN_")) {
            command.env_remove(name);
        }
        command.env_remove("DATABASE_URL").env("TARN_DATA", self.database.folder());
        if let Some(url) = self.database.url() {
            command.env("DATABASE_URL", url);
        }
        if let Some(offset) = &self.clock_offset {
            command.env("TARN_CLOCK_OFFSET", offset);
        }
        command.envs(self.settings.iter().map(|(name, value)| (name, value)));
        command.arg(noun);
        command
    }

    fn log(&self) -> PathBuf {
        self.database.folder().join("server.log")
    }

    /// What it wrote to stderr so far.
    pub fn logged(&self) -> String {
        std::fs::read_to_string(self.log()).unwrap_or_default()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.kill();
    }
}
