//! A program as a child of the test: what it said, and its end by force or by request.

use std::process::{Child, Command, ExitStatus, Output};

/// What a finished program said.
#[derive(Debug, Clone)]
pub struct Ran {
    /// The command line, for messages.
    pub line: String,
    /// The exit code; `None` when a signal ended it.
    pub code: Option<i32>,
    /// Data.
    pub stdout: String,
    /// Messages.
    pub stderr: String,
}

impl Ran {
    /// From the standard library's record of it.
    pub fn new(line: String, output: Output) -> Self {
        Self {
            line,
            code: output.status.code(),
            stdout: String::from_utf8_lossy(&output.stdout).into_owned(),
            stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }

    /// Fails the test unless the program ended with this code.
    #[track_caller]
    pub fn expect(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "{self}");
        self
    }

    /// Standard output as JSON.
    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.stdout).unwrap_or_else(|e| panic!("no JSON ({e}): {self}"))
    }
}

impl std::fmt::Display for Ran {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "`{}` ended with {:?}\nstdout: {}\nstderr: {}",
            self.line, self.code, self.stdout, self.stderr
        )
    }
}

/// The command line as one would type it, for messages.
pub fn shown(command: &Command) -> String {
    let program = std::path::Path::new(command.get_program()).file_name().unwrap_or(command.get_program());
    std::iter::once(program)
        .chain(command.get_args())
        .map(|a| a.to_string_lossy())
        .collect::<Vec<_>>()
        .join(" ")
}

/// Runs a program to its end.
pub fn run(command: &mut Command) -> Ran {
    let line = shown(command);
    let output = command.output().unwrap_or_else(|e| panic!("cannot run `{line}`: {e}"));
    Ran::new(line, output)
}

/// `kill -9`, and the child is gone when this returns.
pub fn kill(child: &mut Child) -> ExitStatus {
    // an error here means that it is gone already
    let _ = child.kill();
    child.wait().expect("a child can be waited for")
}

/// Asks the child to end (SIGTERM) and waits until it has.
pub fn terminate(child: &mut Child) -> ExitStatus {
    // the standard library sends no other signal than SIGKILL
    run(Command::new("kill").args(["-TERM", &child.id().to_string()]));
    child.wait().expect("a child can be waited for")
}
