//! Parcels of a time when the room was kept on another server. They change numbers as they did there; nothing of them
//! is open here, and no room or account of this server is meant.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::ops::{PackedRow, matched, sent};
use crate::lineage::Ancestor;
use crate::rooms::{Names, Row};
use crate::streams::{Links, OpId, ParcelId, StockId};

/// `history.sent`: another server had decided that these fish left the room.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HistorySent {
    /// The op there.
    pub entry: OpId,
    /// Which parcel.
    pub parcel: ParcelId,
    /// What left.
    pub rows: Vec<PackedRow>,
    /// Their ancestry to the founders.
    pub ancestry: Vec<Ancestor>,
}

/// `history.matched`: another server had known the parcel that came for one that was sent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HistoryMatched {
    /// The op there.
    pub entry: OpId,
    /// Which parcel.
    pub parcel: ParcelId,
    /// The stock that it became.
    pub stock: StockId,
    /// What was sent.
    pub sent: Vec<Row>,
    /// The ancestry as it was sent.
    pub ancestry: Vec<Ancestor>,
    /// Fish that had not been told apart, and whose node followed from what was sent.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub told_apart: Vec<Row>,
}

impl Names for HistorySent {
    fn links(&self) -> Links {
        sent(self.parcel, &self.rows)
    }
}

impl Names for HistoryMatched {
    fn links(&self) -> Links {
        matched(self.stock, self.parcel)
    }
}
