//! The decisions the server writes into a room's stream about quarantine.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::clubs::Rule;
use crate::rooms::Names;
use crate::streams::{AccountId, At, ClubId, Days, Entity, Links, OpId, StockId, UnitId};

/// `rule.adopted`: a club's rule, for clients that are offline.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RuleAdopted {
    /// Whose.
    pub club: ClubId,
    /// Which version.
    pub version: u32,
    /// In force from then (never before the decision itself).
    pub from: At,
    /// The rule.
    pub rule: Rule,
    /// The ops that this rests on.
    #[serde(default)]
    pub relies: Vec<OpId>,
}

/// `home_club.set`: whose rule holds in this room.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HomeClubSet {
    /// Which club; none: no club.
    pub club: Option<ClubId>,
    /// From then (never before the decision itself).
    pub from: At,
    /// The ops that this rests on.
    #[serde(default)]
    pub relies: Vec<OpId>,
}

/// How the steward saw the fish.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Seen {
    /// At the tank.
    Visit,
    /// On live video.
    Video,
    /// On pictures.
    Pictures,
    /// By the keeper's word alone.
    KeepersWord,
}

impl Seen {
    /// Every way, with the words a steward signs.
    pub const ALL: [(Self, &'static str, &'static str); 4] = [
        (Self::Visit, "visit", "I stood at the tank"),
        (Self::Video, "video", "Live video"),
        (Self::Pictures, "pictures", "Pictures"),
        (Self::KeepersWord, "keepers_word", "I took the keeper\u{2019}s word"),
    ];
}

/// One thing that a steward let pass, in writing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Waiver {
    /// What was in the way.
    pub blocker: String,
    /// Which entry.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entry: Option<OpId>,
    /// Why it does not matter.
    pub why: String,
}

/// A version of a club's rule.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RuleVersion {
    /// Whose.
    pub club: ClubId,
    /// Which.
    pub version: u32,
}

/// `quarantine.cleared`: a health steward's signature under a whole unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct QuarantineCleared {
    /// The unit.
    pub unit: UnitId,
    /// Its living members at that moment: exactly these.
    pub members: Vec<StockId>,
    /// For which club.
    pub club: ClubId,
    /// By which rules.
    pub rules: Vec<RuleVersion>,
    /// How long it was held.
    pub held: Days,
    /// Who signed.
    pub steward: AccountId,
    /// How the fish were seen.
    pub seen: Seen,
    /// A remark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remark: Option<String>,
    /// What was let pass.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub waivers: Vec<Waiver>,
    /// The ops that this rests on.
    pub relies: Vec<OpId>,
}

macro_rules! of_the_room {
    ($($name:ident),*) => {$(
        impl Names for $name {
            fn links(&self) -> Links {
                Links::default().and_sets([Entity::ROOM])
            }
        }
    )*};
}

of_the_room!(RuleAdopted, HomeClubSet, QuarantineCleared);
