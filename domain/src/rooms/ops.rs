//! The bodies of a room's own ops. Each says which things it names; what it does to them is in the folds.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::numbers::{Count, Node, Row, Sex};
use super::words::{CameFrom, Cause, Keeping, LeftFor, Measure, Origin, Related};
use crate::streams::{At, Entity, Links, NodeId, Patch, StockId, SystemId, TankId};

/// A volume in millilitres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct Millilitres(pub u32);

/// Fish whose parents are not recorded.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Founders {
    /// The lineage node they are.
    pub node: NodeId,
    /// Where they are from.
    pub origin: Origin,
    /// Whether they are related among themselves.
    pub related: Related,
    /// Where they were caught (stays with the keeper).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub locality: Option<String>,
}

macro_rules! bodies {
    ($($(#[$doc:meta])* $name:ident { $($(#[$fdoc:meta])* $field:ident: $type:ty,)* })*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields)]
        pub struct $name { $($(#[$fdoc])* pub $field: $type,)* }
    )*};
}

bodies! {
    /// `water.system_set`: a water system, and what is known of it.
    SystemSet {
        /// Which.
        system: SystemId,
        /// Its name.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        name: Patch<String>,
        /// All the water when filled.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        gross_ml: Patch<Millilitres>,
        /// The water less sand, stones and wood.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        net_ml: Patch<Millilitres>,
        /// The sump's share.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        sump_ml: Patch<Millilitres>,
    }

    /// `tank.added`: a tank stands here from now on.
    TankAdded {
        /// Which.
        tank: TankId,
        /// What is written on it.
        name: String,
        /// The stand it is on.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stand: Option<String>,
        /// The shelf of the stand.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        shelf: Option<String>,
        /// The place on the shelf.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        place: Option<String>,
        /// How much it holds.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        volume_ml: Option<Millilitres>,
    }

    /// `tank.described`: a tank's name, place or size changes.
    TankDescribed {
        /// Which.
        tank: TankId,
        /// What is written on it.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        name: Patch<String>,
        /// The stand it is on.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        stand: Patch<String>,
        /// The shelf of the stand.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        shelf: Patch<String>,
        /// The place on the shelf.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        place: Patch<String>,
        /// How much it holds.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        volume_ml: Patch<Millilitres>,
    }

    /// `tank.plumbed`: from now on it shares this system's water, or stands alone.
    TankPlumbed {
        /// Which.
        tank: TankId,
        /// The system it joins; none: its water is its own.
        system: Option<SystemId>,
    }

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
    }

    /// `stock.moved`: into another tank, or into the bag.
    StockMoved {
        /// Which.
        stock: StockId,
        /// The tank it was in, as the writer saw it; none: the bag.
        from: Option<TankId>,
        /// The tank it is in now; none: the bag.
        to: Option<TankId>,
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
        /// In the keeper's words.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
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

    /// `food.given`.
    FoodGiven {
        /// To which tanks.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        tanks: Vec<TankId>,
        /// To which stocks.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        stocks: Vec<StockId>,
        /// What.
        food: String,
        /// How much, in the keeper's words.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        amount: Option<String>,
    }

    /// `water.read`: what was measured.
    WaterRead {
        /// In which system.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        system: Option<SystemId>,
        /// Or in which tank.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
        /// The values.
        values: Vec<Reading>,
    }

    /// One measured value.
    Reading {
        /// What was measured.
        what: Measure,
        /// The number as it was typed.
        typed: String,
        /// The unit as it was typed.
        unit: String,
        /// Converted: thousandths of °C, of pH, of mg/L, of °dH, of µS/cm or of g/kg.
        milli: i64,
    }

    /// `sign.seen`: something looked wrong.
    SignSeen {
        /// With which stock.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stock: Option<StockId>,
        /// Or in which tank.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
        /// What was seen.
        sign: String,
        /// When it was last seen, if not just now.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        last_seen: Option<At>,
    }

    /// `look.done`: the fish in these tanks were looked at.
    LookDone {
        /// Which tanks.
        tanks: Vec<TankId>,
        /// What was noticed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        remark: Option<String>,
    }

    /// `job.done`: work on a tank or system.
    JobDone {
        /// In which system.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        system: Option<SystemId>,
        /// Or in which tank.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
        /// What was done.
        job: String,
        /// For a water change: how much.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        volume_ml: Option<Millilitres>,
        /// For a water change: which share of the water, in per cent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        percent: Option<u8>,
    }

    /// `note.written`: in the keeper's words. (A note that stays on the device is no op and never sent.)
    NoteWritten {
        /// About which stock.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stock: Option<StockId>,
        /// Or about which tank.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
        /// The words.
        text: String,
    }
}

fn some<T: Copy + Into<Entity>>(id: &Option<T>) -> Option<Entity> {
    id.map(Into::into)
}

/// What an op's body names.
pub trait Names {
    /// The things the op refers to, makes and sets.
    fn links(&self) -> Links;
}

macro_rules! names {
    ($($name:ident: |$this:ident| $links:expr;)*) => {$(
        impl Names for $name {
            fn links(&self) -> Links {
                let $this = self;
                $links
            }
        }
    )*};
}

names! {
    SystemSet: |b| Links::making([b.system.into()]).and_sets([b.system.into()]);
    TankAdded: |b| Links::making([b.tank.into()]);
    TankDescribed: |b| Links::on([b.tank.into()]);
    TankPlumbed: |b| Links::on([b.tank.into()]).and_refers(some(&b.system));
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
    FoodGiven: |b| Links::log(b.tanks.iter().map(|t| (*t).into()).chain(b.stocks.iter().map(|s| (*s).into())));
    WaterRead: |b| Links::log(some(&b.system).into_iter().chain(some(&b.tank)));
    SignSeen: |b| Links::log(some(&b.stock).into_iter().chain(some(&b.tank)));
    LookDone: |b| Links::log(b.tanks.iter().map(|t| (*t).into()));
    JobDone: |b| Links::log(some(&b.system).into_iter().chain(some(&b.tank)));
    NoteWritten: |b| Links::log(some(&b.stock).into_iter().chain(some(&b.tank)));
}
