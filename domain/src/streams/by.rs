//! Who wrote an op: an account, or somebody with a link to one room. Knows no names.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use uuid::Uuid;

use super::{AccountId, LinkId};

/// Who wrote an op. On the wire, in rows and in what receipts and chains are made of it is one UUID: a link's is of
/// version 8 (RFC 9562, 5.8), which no account's is. So what was written before there were links reads and digests as
/// it did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum By {
    /// A person who can log in.
    Account(AccountId),
    /// Whoever has a link.
    Link(LinkId),
}

impl By {
    /// Reads the one UUID.
    pub fn of(id: Uuid) -> Self {
        if id.get_version_num() == 8 { Self::Link(LinkId(id)) } else { Self::Account(AccountId(id)) }
    }

    /// The one UUID.
    pub fn id(self) -> Uuid {
        match self {
            Self::Account(account) => account.0,
            Self::Link(link) => link.0,
        }
    }

    /// The account, if it is one.
    pub fn account(self) -> Option<AccountId> {
        match self {
            Self::Account(account) => Some(account),
            Self::Link(_) => None,
        }
    }

    /// The link, if it is one.
    pub fn link(self) -> Option<LinkId> {
        match self {
            Self::Account(_) => None,
            Self::Link(link) => Some(link),
        }
    }
}

impl From<AccountId> for By {
    fn from(account: AccountId) -> Self {
        Self::Account(account)
    }
}

impl From<LinkId> for By {
    fn from(link: LinkId) -> Self {
        Self::Link(link)
    }
}

impl std::fmt::Display for By {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.id().fmt(f)
    }
}

impl Serialize for By {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        AccountId(self.id()).serialize(to)
    }
}

impl<'de> Deserialize<'de> for By {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        AccountId::deserialize(from).map(|AccountId(id)| Self::of(id))
    }
}

impl LinkId {
    /// A link's id out of random bytes: of version 8, so that it is told from an account's.
    pub fn of_bytes(bytes: [u8; 16]) -> Self {
        Self(uuid::Builder::from_custom_bytes(bytes).into_uuid())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_says_by_itself_whose_it_is() {
        let account = AccountId(Uuid::from_u128(0x0190_a1b2_0000_7000_8000_0000_0000_0001));
        let link = LinkId::of_bytes([0xff; 16]);
        for by in [By::from(account), By::from(link)] {
            assert_eq!(By::of(by.id()), by);
            let text = serde_json::to_string(&by).expect("JSON");
            assert_eq!(text, format!("\"{}\"", by.id()), "as before there were links");
            assert_eq!(serde_json::from_str::<By>(&text).expect("the same"), by);
        }
        assert_eq!((By::from(link).account(), By::from(account).link()), (None, None));
    }
}
