//! Who acts: an account in a session, the server, or its operator.
//!
//! Roles are not part of it: they are read from the database when they are needed.

use uuid::Uuid;

/// Who acts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Actor {
    /// Somebody who is signed in.
    Account {
        /// Which account.
        account: Uuid,
        /// In which session.
        session: Uuid,
    },
    /// The server itself: a job, or somebody who is not signed in yet.
    Server,
    /// Whoever runs the server, at the command line.
    Operator,
}

impl Actor {
    /// The account, if it is one.
    pub fn account(&self) -> Option<Uuid> {
        match self {
            Self::Account { account, .. } => Some(*account),
            Self::Server | Self::Operator => None,
        }
    }
}
