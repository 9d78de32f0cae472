//! The bodies of a room's own ops. Each says which things it names; what it does to them is in the folds.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::words::{Origin, Related};
use crate::streams::{Entity, Links, NodeId};

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
    /// When they were caught: `2019`, `2019-05` or a day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub collected: Option<String>,
}

macro_rules! bodies {
    ($($(#[$doc:meta])* $name:ident { $($(#[$fdoc:meta])* $field:ident: $type:ty,)* })*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields)]
        pub struct $name { $($(#[$fdoc])* pub $field: $type,)* }
    )*};
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

fn some<T: Copy + Into<Entity>>(id: &Option<T>) -> Option<Entity> {
    id.map(Into::into)
}

mod history;
mod logs;
mod stocks;
mod tanks;
mod treatments;

pub use history::{HistoryDecided, HistoryTakenIn};
pub use logs::{
    FoodGiven, HourlyReading, IncidentSeen, JobDone, LookDone, NoteWritten, Reading, SignSeen, WaterLogged,
    WaterRead,
};
pub use stocks::{
    Sexing, StockCameIn, StockCounted, StockDescribed, StockEstablished, StockLeft, StockLost, StockMerged,
    StockMoved, StockSexed, StockSplit,
};
pub use tanks::{SystemJoined, SystemSet, TankAdded, TankDescribed, TankEmptied, TankHung, TankPlumbed};
pub use treatments::{TreatmentBegan, TreatmentEnded};
