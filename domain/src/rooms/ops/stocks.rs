//! The bodies of ops about stocks.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Founders, Names, some};
use crate::rooms::numbers::{Count, Node, Row, Sex};
use crate::rooms::words::{CameFrom, Cause, Keeping, LeftFor};
use crate::streams::{At, Links, OpId, Patch, StockId, TankId};

bodies! {
    /// `stock.established`: fish that were here before the records.
    StockEstablished {
        /// Which.
        stock: StockId,
        /// The keeper's name for it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        name: Option<String>,
        /// How it is kept.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        keeping: Option<Keeping>,
        /// The species as kept.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        species: Option<String>,
        /// Colour or fin form.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        form: Option<String>,
        /// Since when they have been here.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        since: Option<At>,
        /// What is known of their descent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        founders: Option<Founders>,
        /// How many.
        rows: Vec<Row>,
        /// Where they swim.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
    }

    /// `stock.came_in`: fish came into the room without a parcel.
    StockCameIn {
        /// Which.
        stock: StockId,
        /// From whom.
        from: CameFrom,
        /// The shop's or importer's name (seen by the keeper and stewards only).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        source: Option<String>,
        /// The keeper's name for it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        name: Option<String>,
        /// How it is kept.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        keeping: Option<Keeping>,
        /// The species as kept.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        species: Option<String>,
        /// Colour or fin form.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        form: Option<String>,
        /// What is known of their descent.
        founders: Founders,
        /// How many.
        rows: Vec<Row>,
        /// The tank they went into; none: they are still in the bag.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
    }

    /// `stock.described`: what it is called and how it is kept.
    StockDescribed {
        /// Which.
        stock: StockId,
        /// The keeper's name for it.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        name: Patch<String>,
        /// How it is kept.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        keeping: Patch<Keeping>,
        /// The species as kept.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        species: Patch<String>,
        /// Colour or fin form.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        form: Patch<String>,
        /// A remark.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        note: Patch<String>,
        /// Whether its females had met no male before they came (parted young).
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        virgin: Patch<bool>,
    }

    /// `stock.moved`: into another tank, or into the bag.
    StockMoved {
        /// Which.
        stock: StockId,
        /// The tank it was in, as the writer saw it; none: the bag.
        from: Option<TankId>,
        /// The tank it is in now; none: the bag.
        to: Option<TankId>,
        /// Put to fish in quarantine on purpose, to see whether it falls ill: a test companion.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        companion: bool,
    }

    /// `stock.split`: some of a stock are kept apart from now on.
    StockSplit {
        /// From which.
        stock: StockId,
        /// The new stock.
        new: StockId,
        /// How many go over.
        rows: Vec<Row>,
        /// Where the new stock swims; none: in the bag.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
        /// The keeper's name for the new stock.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        name: Option<String>,
    }

    /// `stock.merged`: these fish join another stock.
    StockMerged {
        /// From which.
        stock: StockId,
        /// Into which.
        into: StockId,
        /// How many go over.
        rows: Vec<Row>,
    }

    /// `stock.counted`: so many were counted.
    StockCounted {
        /// Which.
        stock: StockId,
        /// What was counted.
        rows: Vec<Row>,
        /// Whether there are no others.
        all: bool,
    }

    /// `stock.sexed`: fish whose sex is now known (or was taken wrongly).
    StockSexed {
        /// Which.
        stock: StockId,
        /// Who turned out to be what.
        rows: Vec<Sexing>,
    }

    /// Part of a sexing.
    Sexing {
        /// Of which node.
        node: Node,
        /// What they counted as.
        from: Sex,
        /// What they are.
        to: Sex,
        /// How many.
        n: Count,
    }

    /// `stock.lost`: fish died or vanished.
    StockLost {
        /// Of which.
        stock: StockId,
        /// How many.
        rows: Vec<Row>,
        /// To what.
        cause: Cause,
        /// In the keeper's words; of culled fish it has to be there.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
        /// The `incident.seen` that caused it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        incident: Option<OpId>,
    }

    /// `stock.left`: fish left the room without a parcel.
    StockLeft {
        /// Of which.
        stock: StockId,
        /// How many.
        rows: Vec<Row>,
        /// Where to.
        to: LeftFor,
        /// For how much, in the minor unit of the currency.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        price_minor: Option<i64>,
        /// ISO 4217 code.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        currency: Option<String>,
    }
}

names! {
    StockEstablished: |b| Links::making([b.stock.into()]).and_refers(some(&b.tank));
    StockCameIn: |b| Links::making([b.stock.into()]).and_refers(some(&b.tank));
    StockDescribed: |b| Links::on([b.stock.into()]);
    StockMoved: |b| Links::on([b.stock.into()]).and_refers(some(&b.from)).and_refers(some(&b.to));
    // Split into itself it makes nothing.
    StockSplit: |b| Links::making((b.new != b.stock).then(|| b.new.into())).and_on([b.stock.into()]).and_refers(some(&b.tank));
    StockMerged: |b| Links::on([b.stock.into(), b.into.into()]);
    StockCounted: |b| Links::on([b.stock.into()]);
    StockSexed: |b| Links::on([b.stock.into()]);
    StockLost: |b| Links::on([b.stock.into()]);
    StockLeft: |b| Links::on([b.stock.into()]);
}
