//! By which way ops come in, and whose they are then.

use tarn_domain::streams::{AccountId, By, LinkId};

/// By which way ops come in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Path {
    /// A client's push, by this account.
    Push(AccountId),
    /// A page or another API call, by this account.
    Page(AccountId),
    /// The page of a link to one room, which may write little.
    Link(LinkId),
    /// The server decides; the account is the one whose act it follows from.
    Decision(AccountId),
}

impl Path {
    pub(super) fn by(self) -> By {
        match self {
            Self::Push(account) | Self::Page(account) | Self::Decision(account) => account.into(),
            Self::Link(link) => link.into(),
        }
    }
}
