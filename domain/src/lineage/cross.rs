//! What is a cross: young of parents of different species, locality or line, and all that descend from them. Shown for
//! ever. What is not said of a parent can't make one.

use std::collections::{BTreeMap, BTreeSet};

use super::copy::{Ancestor, BreedersCopy, Kin};
use super::graph::ancestors_first;
use crate::rooms::Node;
use crate::streams::NodeId;

/// What tells parents apart.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Kind {
    species: Option<String>,
    line: Option<String>,
    locality: Option<String>,
    collection: Option<String>,
    cross: bool,
}

/// The broods among these nodes that are crosses. Where founders were caught is known to their keeper's room only.
pub fn crosses(nodes: &BTreeMap<NodeId, Ancestor>, localities: &BTreeMap<NodeId, &str>) -> BTreeSet<NodeId> {
    let before = nodes.iter().map(|(node, ancestor)| (*node, ancestor.before())).collect();
    let mut kinds: BTreeMap<NodeId, Kind> = BTreeMap::new();
    for node in ancestors_first(&before) {
        if let Some(ancestor) = nodes.get(&node) {
            let kind = kind(ancestor, &kinds, localities.get(&node).copied());
            kinds.insert(node, kind);
        }
    }
    let is_brood = |node: &NodeId| nodes.get(node).is_some_and(|ancestor| ancestor.brood().is_some());
    kinds.into_iter().filter(|(node, kind)| kind.cross && is_brood(node)).map(|(node, _)| node).collect()
}

/// Whether fish of two kinds are of different species, as far as their names tell: "cf." says only that it is not sure.
pub fn differ(a: &str, b: &str) -> bool {
    plain(a) != plain(b)
}

fn plain(name: &str) -> String {
    let words = name.split_whitespace().map(str::to_lowercase);
    words.filter(|word| word != "cf." && word != "cf").collect::<Vec<_>>().join(" ")
}

fn kind(ancestor: &Ancestor, known: &BTreeMap<NodeId, Kind>, locality: Option<&str>) -> Kind {
    let of = |node: NodeId| known.get(&node).cloned().unwrap_or_default();
    match &ancestor.is {
        Kin::Founders(founders) => Kind {
            species: founders.species.as_deref().map(plain),
            locality: locality.map(plain),
            ..Kind::default()
        },
        Kin::Breeders(BreedersCopy { of: Node::Of(node), .. }) => of(*node),
        Kin::Breeders(_) => Kind::default(),
        Kin::Brood(brood) => {
            let parents: Vec<Kind> = ancestor.before().into_iter().map(of).collect();
            let (species, _) = told(&parents, |kind| kind.species.as_ref());
            let (line, _) = told(&parents, |kind| kind.line.as_ref());
            let (place, locality) = told(&parents, |kind| kind.locality.as_ref());
            let (code, collection) = told(&parents, |kind| kind.collection.as_ref());
            Kind {
                species: brood.species.as_deref().map(plain),
                line: brood.line.as_deref().map(plain),
                locality,
                collection: brood.collection.as_deref().map(plain).or(collection),
                cross: brood.cross || species || line || place || code || parents.iter().any(|p| p.cross),
            }
        }
    }
}

/// Whether parents differ in something, and what they are if it is said of all and they don't.
fn told(parents: &[Kind], of: fn(&Kind) -> Option<&String>) -> (bool, Option<String>) {
    let different: BTreeSet<&String> = parents.iter().filter_map(of).collect();
    let all = parents.iter().all(|parent| of(parent).is_some());
    (different.len() > 1, different.into_iter().next().filter(|_| all).cloned())
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::lineage::{BroodCopy, Draw, FoundersCopy, ShareCopy, SideCopy};
    use crate::rooms::words::{Origin, Related};

    fn node(n: u128) -> NodeId {
        NodeId(Uuid::from_u128(n))
    }

    fn wild(n: u128, species: &str) -> (NodeId, Ancestor) {
        let (origin, related) = (Origin::Wild, Related::NotKnown);
        let founders = FoundersCopy {
            species: Some(species.into()),
            form: None,
            origin,
            related,
            year: None,
            unseen: false,
        };
        (node(n), Ancestor::of(node(n), Kin::Founders(founders)))
    }

    fn young(n: u128, species: &str, line: Option<&str>, of: [u128; 2]) -> (NodeId, Ancestor) {
        let side = |p: u128| {
            Some(SideCopy { of: vec![ShareCopy { node: node(p), n: 1, weight: None }], draw: Draw::One })
        };
        let copy = BroodCopy {
            species: Some(species.into()),
            line: line.map(str::to_owned),
            sires: side(of[0]),
            dams: side(of[1]),
            ..BroodCopy::default()
        };
        (node(n), Ancestor::of(node(n), Kin::Brood(Box::new(copy))))
    }

    #[test]
    fn parents_of_two_species_make_a_cross_and_so_are_all_that_come_after() {
        let all = BTreeMap::from([
            wild(1, "Xiphophorus hellerii"),
            wild(2, "Xiphophorus maculatus"),
            young(3, "Xiphophorus hellerii", None, [1, 2]),
            young(4, "Xiphophorus hellerii", None, [3, 1]),
            young(5, "Xiphophorus hellerii", None, [1, 1]),
        ]);
        assert_eq!(crosses(&all, &BTreeMap::new()), BTreeSet::from([node(3), node(4)]));
    }

    #[test]
    fn so_do_parents_of_two_places_or_of_two_lines() {
        let all = BTreeMap::from([
            wild(1, "Aphyosemion australe"),
            wild(2, "Aphyosemion cf. australe"),
            young(3, "Aphyosemion australe", Some("North"), [1, 1]),
            young(4, "Aphyosemion australe", Some("South"), [1, 1]),
            young(5, "Aphyosemion australe", None, [3, 4]),
            young(6, "Aphyosemion australe", None, [1, 2]),
        ]);
        assert_eq!(crosses(&all, &BTreeMap::new()), BTreeSet::from([node(5)]));
        let places = BTreeMap::from([(node(1), "the north shore"), (node(2), "the south shore")]);
        assert_eq!(crosses(&all, &places), BTreeSet::from([node(5), node(6)]));
    }

    #[test]
    fn what_is_not_said_makes_no_cross() {
        let all = BTreeMap::from([
            wild(1, "Danio rerio"),
            young(2, "Danio rerio", Some("Blue"), [1, 9]),
            young(3, "Danio rerio", None, [1, 9]),
            young(4, "Danio rerio", None, [2, 3]),
        ]);
        assert_eq!(crosses(&all, &BTreeMap::from([(node(1), "a ditch")])), BTreeSet::new());
    }
}
