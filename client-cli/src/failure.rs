//! Why a command ends without having done what it was asked, and the exit code that says so.

use std::fmt;

use crate::store::StoreError;

/// The exit codes: 0 done, and these.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Refused, or failed.
    Refused = 1,
    /// Wrong use of the command.
    WrongUse = 2,
    /// It needs a network, or the server does not answer.
    NeedsNetwork = 3,
    /// Nobody is logged in, or the session has ended.
    NeedsLogin = 4,
}

/// A "no", in words for the person at the shell.
#[derive(Debug, Clone)]
pub struct Failure {
    /// What the process ends with.
    pub exit: Exit,
    /// What is wrong.
    pub says: String,
    /// What to do about it.
    pub hint: Option<String>,
}

impl Failure {
    /// Refused or failed.
    pub fn refused(says: impl fmt::Display) -> Self {
        Self { exit: Exit::Refused, says: says.to_string(), hint: None }
    }

    /// Wrong use.
    pub fn wrong_use(says: impl fmt::Display) -> Self {
        Self { exit: Exit::WrongUse, says: says.to_string(), hint: None }
    }

    /// No network.
    pub fn needs_network(says: impl fmt::Display) -> Self {
        Self { exit: Exit::NeedsNetwork, says: says.to_string(), hint: None }
    }

    /// Nobody is logged in.
    pub fn needs_login(says: impl fmt::Display) -> Self {
        let hint = Some("tarn login URL --login NAME".into());
        Self { exit: Exit::NeedsLogin, says: says.to_string(), hint }
    }

    /// … with what to do about it.
    #[must_use]
    pub fn hint(mut self, hint: impl fmt::Display) -> Self {
        self.hint = Some(hint.to_string());
        self
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.says)
    }
}

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        let hint = match error {
            StoreError::Full => {
                Some("Make room on the disk and try again; everything recorded before is safe.")
            }
            StoreError::ReadOnly => Some("Everything recorded before can still be read."),
            StoreError::Busy => Some("Another tarn command is writing; try again."),
            _ => None,
        };
        Self { exit: Exit::Refused, says: error.to_string(), hint: hint.map(Into::into) }
    }
}

/// What a command comes to.
pub type Outcome<T = ()> = Result<T, Failure>;
