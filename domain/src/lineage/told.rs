//! The bodies by which what is known of a brood changes after it was found: its parents, its name, and what its home
//! room tells those who hold its fish.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::copy::Ancestor;
use super::ops::{BroodName, Parents, stocks_of};
use crate::rooms::Names;
use crate::streams::{Entity, Links, NodeId, OpId, Patch};

/// `brood.corrected`: its parents are others than was said. A side that is not spoken of stays; null: not known.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BroodCorrected {
    /// Which.
    pub brood: NodeId,
    /// The fathers.
    #[serde(default, skip_serializing_if = "Patch::is_keep")]
    pub sires: Patch<Parents>,
    /// The mothers.
    #[serde(default, skip_serializing_if = "Patch::is_keep")]
    pub dams: Patch<Parents>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
}

/// `brood.renamed`: it is something else than was thought, or is called otherwise; reaches all who hold it. A field that
/// is not spoken of stays; null empties it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NameEdit {
    /// The keeper's code.
    #[serde(default, skip_serializing_if = "Patch::is_keep")]
    pub code: Patch<String>,
    /// The scientific name as kept, with cf., aff. or sp. where it is not sure.
    #[serde(default, skip_serializing_if = "Patch::is_keep")]
    pub species: Patch<String>,
    /// Colour or fin form.
    #[serde(default, skip_serializing_if = "Patch::is_keep")]
    pub form: Patch<String>,
    /// The trade name.
    #[serde(default, skip_serializing_if = "Patch::is_keep")]
    pub trade: Patch<String>,
    /// The collection code.
    #[serde(default, skip_serializing_if = "Patch::is_keep")]
    pub collection: Patch<String>,
    /// The line.
    #[serde(default, skip_serializing_if = "Patch::is_keep")]
    pub line: Patch<String>,
    /// Who determined it.
    #[serde(default, skip_serializing_if = "Patch::is_keep")]
    pub determined_by: Patch<String>,
    /// Whether the determination is sure.
    #[serde(default, skip_serializing_if = "Patch::is_keep")]
    pub sure: Patch<bool>,
}

impl From<&BroodName> for NameEdit {
    fn from(name: &BroodName) -> Self {
        Self {
            code: Patch::Keep,
            species: Patch::of(name.species.clone()),
            form: Patch::of(name.form.clone()),
            trade: Patch::of(name.trade.clone()),
            collection: Patch::of(name.collection.clone()),
            line: Patch::of(name.line.clone()),
            determined_by: Patch::of(name.determined_by.clone()),
            sure: Patch::of(name.sure),
        }
    }
}

/// `brood.renamed`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BroodRenamed {
    /// Which.
    pub brood: NodeId,
    /// What of its name changes.
    pub name: NameEdit,
    /// Why: told to all who hold it.
    pub why: String,
}

/// What a home room's word is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Telling {
    /// Its parents are others than the copy that is held says.
    Corrected,
    /// It is called otherwise.
    Renamed,
    /// This room tells another brood under an id whose home is elsewhere.
    Disputed,
}

/// `brood.told`: what a brood's home room says now, for a room that holds it (the server's decision).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BroodTold {
    /// Which brood it is about.
    pub brood: NodeId,
    /// What happened.
    pub what: Telling,
    /// The breeder's reason, if one was given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// The brood and its ancestry, as they are to be known from now on.
    pub nodes: Vec<Ancestor>,
    /// The op of the home room that it comes of.
    pub from: OpId,
    /// How far the home room's records went then: of two tellings the one that knew more counts.
    pub head: u64,
}

/// `history.told`: what a brood's home room had said while the room was kept on another server. What this server tells
/// counts for more.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HistoryTold {
    /// The op there.
    pub entry: OpId,
    /// Which brood it is about.
    pub brood: NodeId,
    /// What happened.
    pub what: Telling,
    /// The breeder's reason, if one was given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// The brood and its ancestry, as they were to be known from then on.
    pub nodes: Vec<Ancestor>,
}

impl Names for BroodCorrected {
    fn links(&self) -> Links {
        let side = |patch: &Patch<Parents>| {
            if let Patch::Set(parents) = patch { Some(parents.clone()) } else { None }
        };
        let (sires, dams) = (side(&self.sires), side(&self.dams));
        Links::on([self.brood.into()]).and_refers(stocks_of([&sires, &dams]).into_iter().map(Entity::from))
    }
}

impl Names for BroodRenamed {
    fn links(&self) -> Links {
        Links::on([self.brood.into()])
    }
}

/// Telling of nodes sets each of them, whether or not it is known here.
fn tells_of(nodes: &[Ancestor]) -> Links {
    Links::default().and_sets(nodes.iter().map(|ancestor| ancestor.node.into()))
}

impl Names for HistoryTold {
    fn links(&self) -> Links {
        tells_of(&self.nodes)
    }
}

impl Names for BroodTold {
    fn links(&self) -> Links {
        tells_of(&self.nodes)
    }
}
