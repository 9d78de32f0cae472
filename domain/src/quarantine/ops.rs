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

/// What can be in the way of a sign-off besides the days.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BlockerKind {
    /// Nobody looked for longer than the rule allows.
    ObservationGap,
    /// An entry was written down later than the rule allows.
    RecordedLate,
    /// An entry was taken back.
    EvidenceWithdrawn,
    /// A count found more fish than the records.
    FoundMore,
    /// Many were lost under named causes, or given away.
    ManyNamedLosses,
}

impl BlockerKind {
    /// The word in waivers.
    pub fn word(self) -> &'static str {
        match self {
            Self::ObservationGap => "observation-gap",
            Self::RecordedLate => "recorded-late",
            Self::EvidenceWithdrawn => "evidence-withdrawn",
            Self::FoundMore => "found-more",
            Self::ManyNamedLosses => "many-named-losses",
        }
    }

    /// What one of them, or so many, are called in a sentence.
    pub fn plain(self, n: usize) -> String {
        let (one, more) = match self {
            Self::ObservationGap => ("a time without a look", "times without a look"),
            Self::RecordedLate => ("an entry that came late", "entries that came late"),
            Self::EvidenceWithdrawn => ("an entry that was taken back", "entries that were taken back"),
            Self::FoundMore => ("a count that found more", "counts that found more"),
            Self::ManyNamedLosses => {
                ("many losses under named causes", "stocks with many losses under named causes")
            }
        };
        if n == 1 { one.to_owned() } else { format!("{n} {more}") }
    }
}

/// One thing that a steward let pass, in writing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Waiver {
    /// What was in the way.
    pub blocker: BlockerKind,
    /// Which entry: one that was late or taken back, or the count that found more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entry: Option<OpId>,
    /// Of whom: a gap between looks, or many losses.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stock: Option<StockId>,
    /// A gap that ended by then, or losses up to then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<At>,
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
    /// Of which other club the steward is, if the room's own had none who is free.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steward_club: Option<ClubId>,
    /// By which rules.
    pub rules: Vec<RuleVersion>,
    /// How long it was held.
    pub held: Days,
    /// When the days began that count.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start: Option<At>,
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

/// `quarantine.waived`: what a health steward lets pass before the sign-off.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct QuarantineWaived {
    /// The unit.
    pub unit: UnitId,
    /// For which club.
    pub club: ClubId,
    /// Who.
    pub steward: AccountId,
    /// What, and why.
    pub waivers: Vec<Waiver>,
    /// The ops that this rests on.
    #[serde(default)]
    pub relies: Vec<OpId>,
}

/// `loss.judged`: a health steward holds a loss under a named cause for one that is not explained.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LossJudged {
    /// The entry of the loss.
    pub entry: OpId,
    /// For which club.
    pub club: ClubId,
    /// Who.
    pub steward: AccountId,
    /// Why.
    pub why: String,
    /// The ops that this rests on.
    #[serde(default)]
    pub relies: Vec<OpId>,
}

/// `quarantine.restarted`: the keeper begins the days again, of all that share water with these fish then.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct QuarantineRestarted {
    /// Any stock of the unit.
    pub stock: StockId,
    /// From when; never later than the entry itself.
    pub from: At,
    /// Why.
    pub why: String,
}

/// `room_rule.set`: a rule of the room's own. It makes a club's stricter and never laxer; it holds for fish that
/// come in from then on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RoomRuleSet {
    /// The rule; none: the room has none of its own any more.
    pub rule: Option<Rule>,
}

/// `quarantine.recalled`: what came in later speaks against a sign-off, which counts as never given. The clock sees that
/// by itself; this says when it was noticed, and by which entries.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct QuarantineRecalled {
    /// The sign-off.
    pub sign_off: OpId,
    /// The entries that speak against it.
    pub entries: Vec<OpId>,
}

impl Names for QuarantineRestarted {
    fn links(&self) -> Links {
        Links::evidence([self.stock.into()])
    }
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

of_the_room!(
    RuleAdopted,
    HomeClubSet,
    QuarantineCleared,
    QuarantineWaived,
    QuarantineRecalled,
    LossJudged,
    RoomRuleSet
);
