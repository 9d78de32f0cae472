//! By which way ops come in, and whose they are then.

use tarn_domain::streams::{AccountId, By, LinkId};

/// By which way ops come in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Path {
    /// A client's push, by this account.
    Push(AccountId),
    /// What this account wrote and may no longer push, taken in by somebody who may.
    Adopted(AccountId),
    /// What this account wrote on another server, which comes along with its room.
    Brought(AccountId),
    /// A page or another API call, by this account.
    Page(AccountId),
    /// The page of a link to one room, which may write little.
    Link(LinkId),
    /// A probe in one room, which writes what it measured and nothing else.
    Probe(LinkId),
    /// The server decides; the account is the one whose act it follows from.
    Decision(AccountId),
}

impl Path {
    /// Whose ops from the wire these are, each named by a device of theirs.
    pub(super) fn writer(self) -> Option<AccountId> {
        match self {
            Self::Push(account) | Self::Adopted(account) | Self::Brought(account) => Some(account),
            Self::Page(_) | Self::Link(_) | Self::Probe(_) | Self::Decision(_) => None,
        }
    }

    pub(super) fn by(self) -> By {
        match self {
            Self::Push(account)
            | Self::Adopted(account)
            | Self::Brought(account)
            | Self::Page(account)
            | Self::Decision(account) => account.into(),
            Self::Link(link) | Self::Probe(link) => link.into(),
        }
    }
}
