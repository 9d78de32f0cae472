//! What changed a stock's number, one op at a time: what the quarantine clock and the pages read. Judges nothing.

use serde::{Deserialize, Serialize};

use super::words::Cause;
use crate::streams::{At, OpId, StockId};

/// Why a number changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TurnKind {
    /// The stock began.
    Made,
    /// Fish of another stock joined.
    Joined(StockId),
    /// Some were lost. Culled without a reason is not explained.
    Lost {
        /// To what.
        cause: Cause,
        /// Whether the keeper says more.
        reason: bool,
    },
    /// Some left the room without a parcel.
    Left,
    /// Some went on in another stock here, or in a parcel.
    Went,
    /// They were counted; the change is what the count corrected.
    Counted,
}

/// One change of a stock's number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Turn {
    /// When.
    pub at: At,
    /// The entry.
    pub op: OpId,
    /// By how many.
    pub change: i64,
    /// Why.
    pub kind: TurnKind,
}
