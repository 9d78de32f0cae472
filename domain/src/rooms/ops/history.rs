//! What a room brings along from another server: decisions that were made there, kept to be read, and the word that
//! all of it is here. None of it gives a right; facts that change numbers or names are kinds of `parcels` and `lineage`.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::streams::{EpochId, Links, OpId, StockId};

/// `history.decided`: what another server had decided, as it was written there. It changes nothing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HistoryDecided {
    /// The op there.
    pub entry: OpId,
    /// Its kind.
    pub kind: String,
    /// The stocks of this room that it speaks of.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stocks: Vec<StockId>,
    /// Its body, as RFC 8785 text.
    pub said: String,
}

/// `history.taken_in`: the room's records from another server are all here. Fish that had come in there count as
/// established here, from when this server heard of them: they wait the days of the rule, whatever was signed there.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HistoryTakenIn {
    /// Where the records were kept, as its keeper says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub server: Option<String>,
    /// The epoch that the stream had there.
    pub epoch: EpochId,
    /// Its head there.
    pub head: u64,
    /// How many claims came along.
    pub claims: u64,
    /// How many decisions did.
    pub decisions: u64,
    /// The stocks that had come in, by a parcel or without.
    pub stocks: Vec<StockId>,
}

impl HistoryDecided {
    /// What was decided, in words that follow "on the server before".
    pub fn plain(&self) -> &'static str {
        match self.kind.as_str() {
            "quarantine.cleared" => "signed off",
            "quarantine.waived" => "a steward let something pass",
            "quarantine.recalled" | "parcel.recalled" => "a sign-off was recalled",
            "loss.judged" => "a loss was held for unexplained",
            "rule.adopted" => "a club\u{2019}s rule for quarantine held",
            "home_club.set" => "the home club was set",
            "parcel.sent" => "a parcel left",
            "parcel.matched" => "a parcel was known",
            "parcel.received" => "a parcel was received",
            "parcel.settled" => "an officer settled a parcel",
            "parcel.agreed" => "a steward agreed to a parcel",
            "history.taken_in" => "records of a server before that were taken in",
            "op.adopted" => "entries of somebody else were taken in",
            "op.redacted" => "words were blanked",
            _ => "something was decided",
        }
    }
}

impl super::Names for HistoryDecided {
    fn links(&self) -> Links {
        Links::log(self.stocks.iter().map(|stock| (*stock).into()))
    }
}

impl super::Names for HistoryTakenIn {
    /// It holds of each stock whatever becomes of the others: one entry that is taken back, or left out to see what hangs
    /// on it, must not put all fish into quarantine again.
    fn links(&self) -> Links {
        Links::default().and_sets(self.stocks.iter().map(|stock| (*stock).into()))
    }
}
