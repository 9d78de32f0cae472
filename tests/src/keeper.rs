//! The real `tarn` as a keeper at a shell would run it: one data folder each, nothing shared, no terminal.

use crate::people::PASSWORD;
use crate::place::{self, Folder};
use crate::process::{self, Ran};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStderr, Command, ExitStatus, Stdio};

/// One installation of the client.
#[derive(Debug)]
pub struct Keeper {
    name: String,
    folder: Folder,
    clock_offset: Option<String>,
}

impl Keeper {
    /// With an empty data folder.
    pub fn new(name: &str) -> Self {
        Self { name: name.to_owned(), folder: Folder::new(&format!("keeper-{name}")), clock_offset: None }
    }

    /// How the test calls it.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its data folder.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// Sets `--clock-offset` for the commands that follow, as in `21d` or `-10m`.
    pub fn set_clock(&mut self, offset: Option<String>) {
        self.clock_offset = offset;
    }

    /// Logs in with the password that everybody in the tests has, and syncs.
    pub fn log_in(&self, url: &str, login: &str) {
        let line = ["login", url, "--login", login, "--password-stdin"];
        self.run_with_input(&line, &format!("{PASSWORD}\n")).expect(0);
        self.done(&["sync"]);
    }

    /// The command, not yet run.
    pub fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(place::binary("tarn"));
        for (name, _) in std::env::vars_os().filter(|(name, _)| name.to_string_lossy().starts_with("TARN_")) {
            command.env_remove(name);
        }
        command.env("NO_COLOR", "1").arg("--data").arg(self.folder());
        if let Some(offset) = &self.clock_offset {
            command.arg(format!("--clock-offset={offset}"));
        }
        command.args(arguments).stdin(Stdio::null());
        command
    }

    /// Runs it to its end, whatever that is.
    pub fn run(&self, arguments: &[&str]) -> Ran {
        process::run(&mut self.command(arguments))
    }

    /// Runs it with something on its standard input.
    pub fn run_with_input(&self, arguments: &[&str], input: &str) -> Ran {
        let mut command = self.command(arguments);
        let line = process::shown(&command);
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().unwrap_or_else(|e| panic!("cannot run `{line}`: {e}"));
        // one that refuses before it reads has closed the pipe
        let _ = child.stdin.take().expect("stdin is a pipe").write_all(input.as_bytes());
        Ran::new(line, child.wait_with_output().expect("a child can be waited for"))
    }

    /// Starts it with its words kept, for a test that kills it.
    pub fn spawn(&self, arguments: &[&str]) -> Child {
        let mut command = self.command(arguments);
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        command.spawn().unwrap_or_else(|e| panic!("cannot run `{}`: {e}", process::shown(&command)))
    }

    /// Starts it to stay; what it says to people is read line by line.
    pub fn stay(&self, arguments: &[&str]) -> Staying {
        let mut command = self.command(arguments);
        command.stdout(Stdio::null()).stderr(Stdio::piped());
        let mut child =
            command.spawn().unwrap_or_else(|e| panic!("cannot run `{}`: {e}", process::shown(&command)));
        let says = BufReader::new(child.stderr.take().expect("stderr is a pipe"));
        Staying { child, says, said: String::new() }
    }

    /// Runs it and fails the test unless it is done (exit 0).
    #[track_caller]
    pub fn done(&self, arguments: &[&str]) -> Ran {
        self.run(arguments).expect(0)
    }

    /// Runs it with `--json`, done, and gives what it said.
    #[track_caller]
    pub fn json(&self, arguments: &[&str]) -> serde_json::Value {
        let mut all = arguments.to_vec();
        all.push("--json");
        self.done(&all).json()
    }
}

/// A command that stays until it is asked to end. Ends with the test.
#[derive(Debug)]
pub struct Staying {
    child: Child,
    says: BufReader<ChildStderr>,
    said: String,
}

impl Staying {
    /// Waits until it says a line with these words in it.
    #[track_caller]
    pub fn until(&mut self, words: &str) {
        loop {
            let mut line = String::new();
            if self.says.read_line(&mut line).unwrap_or(0) == 0 {
                panic!("it ended without saying {words:?}; it said:\n{}", self.said);
            }
            self.said.push_str(&line);
            if line.contains(words) {
                return;
            }
        }
    }

    /// All it has said so far.
    pub fn said(&self) -> &str {
        &self.said
    }

    /// Ctrl-C; how it ended.
    pub fn interrupt(&mut self) -> ExitStatus {
        process::run(Command::new("kill").args(["-INT", &self.child.id().to_string()]));
        self.child.wait().expect("a child can be waited for")
    }
}

impl Drop for Staying {
    fn drop(&mut self) {
        process::kill(&mut self.child);
    }
}
