//! The copy of an ancestry that travels with a parcel: every node back to the founders, each once. Names of
//! people, notes, rooms and localities stay behind.

use std::collections::BTreeSet;

use super::brood::BroodState;
use super::ops::Ancestor;
use crate::rooms::{Founders, Node};
use crate::streams::NodeId;

/// A brood as it may travel.
pub fn of_brood(node: NodeId, brood: &BroodState) -> Ancestor {
    Ancestor {
        node,
        code: brood.code.clone(),
        species: brood.name.species.clone(),
        form: brood.name.form.clone(),
        month: brood.found.map(|at| at.to_string()[..7].to_owned()),
        sires: brood.sires.clone(),
        dams: brood.dams.clone(),
    }
}

/// Founders as they may travel.
pub fn of_founders(founders: &Founders, species: Option<&str>, form: Option<&str>) -> Ancestor {
    Ancestor {
        node: founders.node,
        code: None,
        species: species.map(str::to_owned),
        form: form.map(str::to_owned),
        month: None,
        sires: None,
        dams: None,
    }
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
            let parents = ancestor.sires.iter().chain(&ancestor.dams).flat_map(|side| &side.of);
            deeper
                .extend(parents.filter_map(|p| if let Node::Of(node) = p.node { Some(node) } else { None }));
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
    use crate::lineage::{Draw, Parents, ParentsOf};
    use crate::streams::StockId;

    fn node(n: u128) -> NodeId {
        NodeId(Uuid::from_u128(n))
    }

    fn child(n: u128, of: &[u128]) -> Ancestor {
        let parent = |p: &u128| ParentsOf {
            stock: StockId(Uuid::nil()),
            node: Node::Of(node(*p)),
            n: 1,
            weight: None,
        };
        let sires = Some(Parents { of: of.iter().map(parent).collect(), draw: Draw::One });
        Ancestor { node: node(n), code: None, species: None, form: None, month: None, sires, dams: None }
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
