//! The bodies of lineage ops, and the copy of an ancestry that travels with a parcel.

use std::collections::BTreeSet;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::rooms::{Names, Node, Row};
use crate::streams::{At, Entity, Links, NodeId, SpawningId, StockId, TankId};

/// Whether one fish, perhaps unknown which, is a parent of the whole brood, or young were drawn from all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Draw {
    /// One individual is the parent of the whole brood.
    One,
    /// Each young has its own, drawn from all.
    Many,
}

/// So many fish of one node in one stock: candidates for a parent.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ParentsOf {
    /// The stock they were in.
    pub stock: StockId,
    /// The lineage node they are of.
    pub node: Node,
    /// How many of them there were.
    pub n: u32,
    /// Their weight in whole thousandths, where the keeper knows more than the numbers say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight: Option<u16>,
}

/// One side of a brood's parents.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Parents {
    /// Who they may be.
    pub of: Vec<ParentsOf>,
    /// One of them, or many.
    pub draw: Draw,
}

/// What is wrong with parents as they were told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum BadParents {
    /// Nobody is named.
    #[error("a side names at least one parent; leave it out if it is not known")]
    Nobody,
    /// None of a group.
    #[error("a group of parents has at least one fish in it")]
    NoFish,
    /// Some have weights and some have none, or they don't add up.
    #[error("weights are given to all of a side or to none, each at least 1, and add up to 1000")]
    Weights,
}

impl Parents {
    /// Whether a side can be understood: fish in every group, and weights of all or of none.
    ///
    /// # Errors
    /// What is wrong.
    pub fn check(&self) -> Result<(), BadParents> {
        if self.of.is_empty() {
            return Err(BadParents::Nobody);
        }
        if self.of.iter().any(|parent| parent.n == 0) {
            return Err(BadParents::NoFish);
        }
        let weights: Vec<u32> = self.of.iter().filter_map(|parent| parent.weight).map(u32::from).collect();
        let whole = weights.len() == self.of.len() && weights.iter().sum::<u32>() == 1000;
        if weights.is_empty() || (whole && weights.iter().all(|weight| *weight > 0)) {
            return Ok(());
        }
        Err(BadParents::Weights)
    }
}

/// The stocks that both sides are of, each once.
pub fn stocks_of(sides: [&Option<Parents>; 2]) -> BTreeSet<StockId> {
    sides.into_iter().flatten().flat_map(|side| &side.of).map(|parent| parent.stock).collect()
}

/// What a brood is called.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BroodName {
    /// The scientific name as kept, with cf., aff. or sp. where it is not sure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub species: Option<String>,
    /// Colour or fin form.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub form: Option<String>,
    /// The trade name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trade: Option<String>,
    /// The collection code.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub collection: Option<String>,
    /// The line: a population that is kept apart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line: Option<String>,
    /// Who determined it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub determined_by: Option<String>,
    /// Whether the determination is sure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sure: Option<bool>,
}

/// When the young may have been born or laid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Window {
    /// Not before.
    pub from: At,
    /// Not after.
    pub to: At,
}

impl Window {
    /// The least that holds both.
    pub fn with(self, other: Self) -> Self {
        Self { from: self.from.min(other.from), to: self.to.max(other.to) }
    }
}

/// `young.found`: young were found; makes the brood and the stock they are.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct YoungFound {
    /// The brood.
    pub brood: NodeId,
    /// The spawning that it belongs to, if earlier steps were seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spawning: Option<SpawningId>,
    /// The keeper's code for it.
    pub code: String,
    /// What it is called.
    pub name: BroodName,
    /// When it may have been born.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub window: Option<Window>,
    /// The fathers; none: not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sires: Option<Parents>,
    /// The mothers; none: not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dams: Option<Parents>,
    /// The stock the young are.
    pub stock: StockId,
    /// How many.
    pub rows: Vec<Row>,
    /// Where they swim.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tank: Option<TankId>,
}

impl Names for YoungFound {
    fn links(&self) -> Links {
        Links::making([self.brood.into(), self.stock.into()])
            .and_refers(self.tank.map(Into::into))
            .and_refers(stocks_of([&self.sires, &self.dams]).into_iter().map(Entity::from))
            .and_sets(self.spawning.map(Into::into))
    }
}
