//! A node of an ancestry as it may travel from room to room: no names of people, no notes, no rooms, no localities.

use std::collections::BTreeSet;

use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize};
use uuid::Uuid;

use super::ops::Draw;
use crate::rooms::words::{Origin, Related};
use crate::rooms::{Node, Sex};
use crate::streams::NodeId;

/// One node of a copied ancestry.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Ancestor {
    /// The node.
    pub node: NodeId,
    /// What it is called elsewhere, if it comes from another server.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub foreign: Option<Foreign>,
    /// What it is.
    pub is: Kin,
}

/// What a node of an ancestry is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Kin {
    /// All young of one spawning, or of pooled ones.
    Brood(Box<BroodCopy>),
    /// The fish of one sex of a node that bred as one group.
    Breeders(BreedersCopy),
    /// Fish whose parents are not recorded.
    Founders(FoundersCopy),
}

/// An id from another server: only together with its issuer does it name anything.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Foreign {
    /// The server that gave it, by its address.
    pub issuer: String,
    /// The id there.
    #[serde(deserialize_with = "in_one_spelling")]
    pub id: Uuid,
}

/// An id is written in one way only, wherever it is from: else one op would have two texts.
fn in_one_spelling<'de, D: Deserializer<'de>>(d: D) -> Result<Uuid, D::Error> {
    NodeId::deserialize(d).map(|id| id.0)
}

impl Foreign {
    /// The node's id here: UUIDv5 of both, in the namespace of addresses (RFC 9562). So nobody's id from elsewhere is
    /// ever taken for one of this server.
    pub fn node(&self) -> NodeId {
        let issuer = Uuid::new_v5(&Uuid::NAMESPACE_URL, self.issuer.trim_end_matches('/').as_bytes());
        NodeId(Uuid::new_v5(&issuer, self.id.as_bytes()))
    }
}

/// A brood as it may travel.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BroodCopy {
    /// The breeder's code.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub code: Option<String>,
    /// The species as kept.
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
    /// The population that is kept apart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line: Option<String>,
    /// Whether the determination is sure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sure: Option<bool>,
    /// Year and month, `2026-03`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub month: Option<String>,
    /// How many there were when they were found or picked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub young: Option<u32>,
    /// Whether parents of different species, locality or line are among its ancestors.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub cross: bool,
    /// The fathers; none: not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sires: Option<SideCopy>,
    /// The mothers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dams: Option<SideCopy>,
}

/// One side of a brood's parents.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SideCopy {
    /// The groups, as counted then.
    pub of: Vec<ShareCopy>,
    /// One individual of them all, or young drawn from all.
    pub draw: Draw,
}

/// So many fish of one group of breeders (or of founders that nobody saw) that may be a parent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShareCopy {
    /// The breeders, or the founders.
    pub node: NodeId,
    /// How many of them there were then.
    pub n: u32,
    /// Their weight in whole thousandths, where the keeper knows more than the numbers say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight: Option<u16>,
}

/// A group of breeders.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BreedersCopy {
    /// The brood or founders they are of, or the breeders that they were split from.
    pub of: Node,
    /// Their sex.
    pub sex: Sex,
    /// How many there were, at most.
    pub n: u32,
}

/// Founders.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FoundersCopy {
    /// The species as kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub species: Option<String>,
    /// Colour or fin form.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub form: Option<String>,
    /// Where they are from.
    pub origin: Origin,
    /// Whether they are related among themselves.
    pub related: Related,
    /// The year in which they were caught.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub year: Option<String>,
    /// They stand for males that a female met before she came: nobody here saw them.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub unseen: bool,
}

impl Ancestor {
    /// A node of this server.
    pub fn of(node: NodeId, is: Kin) -> Self {
        Self { node, foreign: None, is }
    }

    /// The brood, if it is one.
    pub fn brood(&self) -> Option<&BroodCopy> {
        if let Kin::Brood(brood) = &self.is { Some(brood) } else { None }
    }

    /// The breeder's code, if it is a brood that has one.
    pub fn code(&self) -> Option<&String> {
        self.brood().and_then(|brood| brood.code.as_ref())
    }

    /// The species as kept.
    pub fn species(&self) -> Option<&String> {
        match &self.is {
            Kin::Brood(brood) => brood.species.as_ref(),
            Kin::Founders(founders) => founders.species.as_ref(),
            Kin::Breeders(_) => None,
        }
    }

    /// Colour or fin form.
    pub fn form(&self) -> Option<&String> {
        match &self.is {
            Kin::Brood(brood) => brood.form.as_ref(),
            Kin::Founders(founders) => founders.form.as_ref(),
            Kin::Breeders(_) => None,
        }
    }

    /// The nodes that come before it.
    pub fn before(&self) -> Vec<NodeId> {
        match &self.is {
            Kin::Brood(brood) => brood
                .sires
                .iter()
                .chain(&brood.dams)
                .flat_map(|side| &side.of)
                .map(|share| share.node)
                .collect(),
            Kin::Breeders(BreedersCopy { of: Node::Of(node), .. }) => vec![*node],
            Kin::Breeders(_) | Kin::Founders(_) => Vec::new(),
        }
    }
}

/// A copy that came from another server, its ids under that issuer, so that they name nothing here by chance. What that
/// server had from a third keeps the name that the third gave it.
pub fn from_elsewhere(copies: Vec<Ancestor>, issuer: &str) -> Vec<Ancestor> {
    let third: BTreeSet<NodeId> = copies.iter().filter(|a| a.foreign.is_some()).map(|a| a.node).collect();
    let far = |node: NodeId| Foreign { issuer: issuer.to_owned(), id: node.0 };
    let named = |node: NodeId| if third.contains(&node) { node } else { far(node).node() };
    let moved = |ancestor: Ancestor| {
        let is = match ancestor.is {
            Kin::Brood(mut brood) => {
                for share in brood.sires.iter_mut().chain(&mut brood.dams).flat_map(|side| &mut side.of) {
                    share.node = named(share.node);
                }
                Kin::Brood(brood)
            }
            Kin::Breeders(BreedersCopy { of: Node::Of(of), sex, n }) => {
                Kin::Breeders(BreedersCopy { of: Node::Of(named(of)), sex, n })
            }
            other => other,
        };
        let foreign = ancestor.foreign.or_else(|| Some(far(ancestor.node)));
        Ancestor { node: named(ancestor.node), foreign, is }
    };
    copies.into_iter().map(moved).collect()
}
