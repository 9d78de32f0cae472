//! Ids that can't be mixed up. Must not know how an id is made: randomness is the caller's.

use std::fmt;
use std::str::FromStr;

use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize, de};
use uuid::Uuid;

use super::By;

/// Reads a UUID in its one accepted spelling: 36 lower-case characters with hyphens (RFC 9562, section 4).
/// Other spellings are refused so that one id has one text, and one op one digest.
pub fn parse_uuid(text: &str) -> Option<Uuid> {
    let plain = text.len() == 36 && text.bytes().all(|b| !b.is_ascii_uppercase());
    if plain { Uuid::try_parse(text).ok() } else { None }
}

/// A text that is not an id.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("an id is a UUID in lower case with hyphens, like 0190a1b2-0000-7000-8000-000000000001")]
pub struct NotAnId;

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
        #[serde(transparent)]
        pub struct $name(pub Uuid);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{}({})", stringify!($name), self.0)
            }
        }

        impl FromStr for $name {
            type Err = NotAnId;
            fn from_str(text: &str) -> Result<Self, NotAnId> {
                parse_uuid(text).map(Self).ok_or(NotAnId)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                struct Text;
                impl de::Visitor<'_> for Text {
                    type Value = $name;
                    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                        f.write_str("a UUID in lower case with hyphens")
                    }
                    fn visit_str<E: de::Error>(self, text: &str) -> Result<$name, E> {
                        text.parse().map_err(E::custom)
                    }
                }
                d.deserialize_str(Text)
            }
        }
    )*};
}

ids! {
    /// One small record of what was done (UUIDv7, made by the writer).
    OpId,
    /// An append-only list of ops: a room, a hall, the library. A room's id is its stream's.
    StreamId,
    /// One installation of the client, or an account's pages, or the stream itself for decisions.
    DeviceId,
    /// A person who can log in.
    AccountId,
    /// An expiring link to one room, for somebody without an account.
    LinkId,
    /// A society.
    ClubId,
    /// The stretch of a stream's history between two restores.
    EpochId,
    /// Tanks that share water.
    SystemId,
    /// A container of water.
    TankId,
    /// Fish managed together.
    StockId,
    /// A lineage node: a brood, founders or breeders.
    NodeId,
    /// A spawning: the steps by which a brood came about.
    SpawningId,
    /// Fish on their way from one room to another.
    ParcelId,
    /// A treatment of a water.
    TreatmentId,
    /// A quarantine unit, derived from what is in it.
    UnitId,
}

impl DeviceId {
    /// The device under which a stream's decisions are written: UUIDv5 of the stream.
    pub fn of_stream(stream: StreamId) -> Self {
        Self(Uuid::new_v5(&stream.0, b"decisions"))
    }

    /// The device under which an account's or a link's pages write into a stream: UUIDv5 of the stream and of whose they
    /// are.
    pub fn of_pages(stream: StreamId, by: impl Into<By>) -> Self {
        Self(Uuid::new_v5(&stream.0, by.into().id().as_bytes()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_id_has_one_spelling() {
        let plain = "0190a1b2-0000-7000-8000-00000000abcd";
        assert!(plain.parse::<OpId>().is_ok());
        for other in [
            plain.to_uppercase(),
            plain.replace('-', ""),
            format!("{{{plain}}}"),
            format!("urn:uuid:{plain}"),
            String::new(),
        ] {
            assert_eq!(other.parse::<OpId>(), Err(NotAnId), "{other}");
        }
    }

    #[test]
    fn a_stream_s_own_device_is_nobody_s_pages() {
        let stream = StreamId(Uuid::from_u128(1));
        assert_ne!(DeviceId::of_stream(stream), DeviceId::of_pages(stream, AccountId(Uuid::from_u128(2))));
    }
}
