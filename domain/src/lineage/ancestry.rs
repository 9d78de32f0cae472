//! What a room knows of the ancestry of fish, and the copy of it that travels with a parcel: every node back to the
//! founders, each once. Names of people, notes, rooms and localities stay behind.

use std::collections::{BTreeMap, BTreeSet};

use super::breeders::Groups;
use super::brood::BroodState;
use super::copy::{Ancestor, BroodCopy, FoundersCopy, Kin};
use super::cross::crosses;
use crate::rooms::words::{Origin, Related};
use crate::rooms::{Founders, Node, StockState};
use crate::streams::{NodeId, StockId};

/// What a room has to tell of lineage.
pub struct Records<'a> {
    /// Its stocks.
    pub stocks: &'a BTreeMap<StockId, &'a StockState>,
    /// The broods that were made here.
    pub broods: &'a BTreeMap<NodeId, &'a BroodState>,
    /// What other rooms said of their nodes since.
    pub told: &'a BTreeMap<NodeId, &'a Ancestor>,
    /// Copies that came with parcels.
    pub copies: Vec<&'a Ancestor>,
}

impl Records<'_> {
    /// Every node that the room knows of, as it may travel. What a node's home says goes before what was recorded here,
    /// and that before the copies.
    pub fn known(&self) -> BTreeMap<NodeId, Ancestor> {
        let inert = self.inert();
        let counting = self.counting(&inert);
        let broods: BTreeMap<NodeId, &BroodState> =
            counting.iter().map(|(node, brood)| (*node, &**brood)).collect();
        let groups = Groups::of(self.stocks, &broods);
        let mut all: BTreeMap<NodeId, Ancestor> = BTreeMap::new();
        for copy in &self.copies {
            all.entry(copy.node).or_insert_with(|| (*copy).clone());
        }
        for stock in self.stocks.values() {
            if let Some(founders) = &stock.founders {
                all.insert(
                    founders.node,
                    Ancestor::of(founders.node, Kin::Founders(of_founders(founders, stock))),
                );
            }
        }
        for (&node, breeders) in &groups.breeders {
            all.insert(node, Ancestor::of(node, Kin::Breeders(*breeders)));
        }
        for (&node, stock) in &groups.unnamed {
            let species = self.stocks.get(stock).and_then(|stock| stock.species.clone());
            let (origin, related) = (Origin::Unknown, Related::NotKnown);
            let unnamed = FoundersCopy { species, form: None, origin, related, year: None, unseen: true };
            all.insert(node, Ancestor::of(node, Kin::Founders(unnamed)));
        }
        for (&node, brood) in &broods {
            let [sires, dams] = groups.sides.get(&node).cloned().unwrap_or_default();
            let copy = BroodCopy { sires, dams, ..of_brood(brood) };
            all.insert(node, Ancestor::of(node, Kin::Brood(Box::new(copy))));
        }
        for (&node, told) in self.told {
            all.insert(node, (*told).clone());
        }
        for node in inert.keys().filter(|node| !broods.contains_key(node) || self.told.contains_key(node)) {
            if let Some(Ancestor { is: Kin::Brood(brood), .. }) = all.get_mut(node) {
                (brood.sires, brood.dams) = (None, None);
            }
        }
        let localities: BTreeMap<NodeId, &str> = self
            .stocks
            .values()
            .filter_map(|stock| stock.founders.as_ref())
            .filter_map(|founders| Some((founders.node, founders.locality.as_deref()?)))
            .collect();
        for node in crosses(&all, &localities) {
            if let Some(Ancestor { is: Kin::Brood(brood), .. }) = all.get_mut(&node) {
                brood.cross = true;
            }
        }
        all
    }
}

/// A brood as it may travel, without its parents.
fn of_brood(brood: &BroodState) -> BroodCopy {
    let name = &brood.name;
    let month = brood.window.map(|window| window.from).or(brood.found);
    BroodCopy {
        code: brood.code.clone(),
        species: name.species.clone(),
        form: name.form.clone(),
        trade: name.trade.clone(),
        collection: name.collection.clone(),
        line: name.line.clone(),
        sure: name.sure,
        month: month.map(|at| at.to_string()[..7].to_owned()),
        young: u32::try_from(brood.young).ok().filter(|n| *n > 0),
        cross: false,
        sires: None,
        dams: None,
    }
}

/// Founders as they may travel.
fn of_founders(founders: &Founders, stock: &StockState) -> FoundersCopy {
    let year = founders.collected.as_ref().and_then(|day| day.get(..4)).map(str::to_owned);
    FoundersCopy {
        species: stock.species.clone(),
        form: stock.form.clone(),
        origin: founders.origin,
        related: founders.related,
        year,
        unseen: false,
    }
}

/// The brood or founders that breeders are of, through all the groups that they were split from; any other node is
/// itself. Groups that would be split from one another are of nothing that is told.
pub fn group_of<'a>(node: NodeId, known: impl Fn(NodeId) -> Option<&'a Ancestor>) -> Node {
    let (mut at, mut seen) = (node, BTreeSet::new());
    while seen.insert(at) {
        match known(at).map(|ancestor| &ancestor.is) {
            Some(Kin::Breeders(group)) => match group.of {
                Node::Of(of) => at = of,
                Node::Unassigned => break,
            },
            _ => return Node::Of(at),
        }
    }
    Node::Unassigned
}

/// Everything from these nodes back to the founders, as far as `known` knows it; nearest first.
pub fn ancestry(
    from: impl IntoIterator<Item = NodeId>,
    known: impl Fn(NodeId) -> Option<Ancestor>,
) -> Vec<Ancestor> {
    let mut seen = BTreeSet::new();
    let mut next: Vec<NodeId> = from.into_iter().collect();
    let mut all = Vec::new();
    while !next.is_empty() {
        let mut deeper = Vec::new();
        for node in next {
            if !seen.insert(node) {
                continue;
            }
            let Some(ancestor) = known(node) else { continue };
            deeper.extend(ancestor.before());
            all.push(ancestor);
        }
        next = deeper;
    }
    all
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::lineage::{Draw, ShareCopy, SideCopy};

    fn node(n: u128) -> NodeId {
        NodeId(Uuid::from_u128(n))
    }

    fn child(n: u128, of: &[u128]) -> Ancestor {
        let of = of.iter().map(|p| ShareCopy { node: node(*p), n: 1, weight: None }).collect();
        let sires = Some(SideCopy { of, draw: Draw::One });
        Ancestor::of(node(n), Kin::Brood(Box::new(BroodCopy { sires, ..BroodCopy::default() })))
    }

    #[test]
    fn each_node_travels_once_and_what_is_unknown_is_left_out() {
        let known = |id: NodeId| match id.0.as_u128() {
            1 => Some(child(1, &[2, 3])),
            2 => Some(child(2, &[4])),
            3 => Some(child(3, &[4, 9])),
            4 => Some(child(4, &[])),
            _ => None,
        };
        let nodes: Vec<u128> = ancestry([node(1)], known).iter().map(|a| a.node.0.as_u128()).collect();
        assert_eq!(nodes, [1, 2, 3, 4]);
    }

    #[test]
    fn a_circle_ends() {
        let known = |id: NodeId| Some(child(id.0.as_u128(), &[3 - id.0.as_u128()]));
        assert_eq!(ancestry([node(1)], known).len(), 2);
    }
}
