//! What the records contradict themselves in: accepted, shown under "to put right", cleared by a later op.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::streams::OpId;

/// The kinds of contradictions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum FindingKind {
    /// Fewer than none are left.
    BelowZero,
    /// A row (one node and sex) is below zero though the total is not.
    RowBelowZero,
    /// Dated before the thing it speaks of was there.
    BeforeMade,
    /// The entry rests on one that no longer counts.
    Inert,
    /// Two entries make the same thing; the first one counts.
    MadeTwice,
    /// Moved from a tank in which the records did not have it.
    TwoPlaces,
    /// Something is left of a stock that was merged into another.
    MergeLeftSome,
    /// Not as many arrived as were sent.
    NumbersDiffer,
    /// A parcel arrived that nobody here knows of.
    Unmatched,
    /// Another brood was told under the same id.
    Disputed,
    /// Emptied, but it shares its water or holds fish.
    NotEmptied,
    /// Fish came from a unit whose sign-off was recalled since.
    ReceivedFromRecalled,
    /// The records count the possible parents of a brood otherwise than when they were written down.
    ParentsOtherwise,
    /// By the parents that were told a brood would be its own ancestor.
    OwnAncestor,
}

impl FindingKind {
    /// What is wrong and what puts it right, in plain words.
    pub fn plain(self) -> (&'static str, &'static str) {
        match self {
            Self::BelowZero => {
                ("More were taken out than were there.", "Count them, or take back the entry that was wrong.")
            }
            Self::RowBelowZero => (
                "More of one kind were taken out than were there.",
                "Count them by sex, or record their sexes.",
            ),
            Self::BeforeMade => (
                "Dated before the fish or the tank were recorded here.",
                "Take it back and write it again with its right day.",
            ),
            Self::Inert => (
                "Rests on an entry that was taken back, so it does not count.",
                "Write it again for the right stock or tank.",
            ),
            Self::MadeTwice => ("Recorded twice; the first entry counts.", "Take one of the two back."),
            Self::TwoPlaces => (
                "Moved out of a tank where the records did not have it.",
                "Say where it is: move it to the tank it is in.",
            ),
            Self::MergeLeftSome => (
                "Some are left of a stock that was put together with another.",
                "Count the rest, or record what became of them.",
            ),
            Self::NumbersDiffer => {
                ("Not as many arrived as were sent.", "Both sides see it; an officer settles it.")
            }
            Self::Unmatched => (
                "No parcel to you is known under this arrival's id.",
                "It is matched when the giver's record comes in; if the id was mistyped, take the entry back.",
            ),
            Self::NotEmptied => (
                "Written down as emptied, but it changes nothing: its water is shared, or fish were in it.",
                "Empty the whole system with its sump, or the tank once it stands alone without fish, and write that.",
            ),
            Self::ReceivedFromRecalled => (
                "These fish came from a unit whose sign-off was recalled since.",
                "Keep them, and whatever shares their water, apart; a health steward says what is next.",
            ),
            Self::ParentsOtherwise => (
                "By entries that came in later, or were taken back, other numbers of fish could be its parents.",
                "If the records are right now, correct it: tarn brood correct.",
            ),
            Self::OwnAncestor => (
                "By these parents it would be its own ancestor, so this entry does not count for that.",
                "Correct the brood whose parents are wrong: tarn brood correct.",
            ),
            Self::Disputed => {
                ("Another lineage was told for the same brood.", "Ask the breeder to correct it.")
            }
        }
    }
}

/// One contradiction and the op that shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Finding {
    /// What is contradicted.
    pub kind: FindingKind,
    /// Which entry.
    pub op: OpId,
}
