//! The graph of who comes from whom, over all rooms: its order, and that nothing is its own ancestor. Knows nodes and
//! their parents only. Nothing here calls itself: a line may be as deep as somebody cares to write.

use std::collections::{BTreeMap, BTreeSet};

use crate::streams::{At, NodeId, OpId};

/// The nodes of a graph, each after all that come before it; of a circle in no order.
pub fn ancestors_first(nodes: &BTreeMap<NodeId, Vec<NodeId>>) -> Vec<NodeId> {
    let mut order = Vec::with_capacity(nodes.len());
    let mut seen = BTreeSet::new();
    for &start in nodes.keys() {
        let mut stack = vec![(start, false)];
        while let Some((node, done)) = stack.pop() {
            if done {
                order.push(node);
                continue;
            }
            let Some(before) = nodes.get(&node).filter(|_| seen.insert(node)) else { continue };
            stack.push((node, true));
            stack
                .extend(before.iter().filter(|parent| !seen.contains(parent)).map(|parent| (*parent, false)));
        }
    }
    order
}

/// Whether a node would be its own ancestor with these parents: the way from it back to it, each the parent of the one
/// before. `before` has the parents of all that come before these.
pub fn circle(
    node: NodeId,
    parents: &[NodeId],
    before: &BTreeMap<NodeId, Vec<NodeId>>,
) -> Option<Vec<NodeId>> {
    let mut from: BTreeMap<NodeId, NodeId> = BTreeMap::new();
    let mut next: Vec<NodeId> = Vec::new();
    for &parent in parents {
        if from.insert(parent, node).is_none() {
            next.push(parent);
        }
    }
    while let Some(at) = next.pop() {
        if at == node {
            let mut way = vec![node];
            let mut step = from.get(&node).copied();
            while let Some(child) = step.filter(|child| *child != node) {
                way.push(child);
                step = from.get(&child).copied();
            }
            way.push(node);
            way.reverse();
            return Some(way);
        }
        for &parent in before.get(&at).into_iter().flatten() {
            if let std::collections::btree_map::Entry::Vacant(place) = from.entry(parent) {
                place.insert(at);
                next.push(parent);
            }
        }
    }
    None
}

/// A brood in the graph.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Knot {
    /// Its parents as they count.
    pub parents: Vec<NodeId>,
    /// Its parents without its latest correction, and when and by which entry that was.
    pub before: Option<(Vec<NodeId>, At, OpId)>,
}

/// Takes circles out of a graph, should one ever be there: of the corrections on a circle the latest is inert; where
/// there is none, the parents of the brood with the greatest id don't count. Returns the broods that this befell.
pub fn untangle(knots: &mut BTreeMap<NodeId, Knot>) -> Vec<NodeId> {
    let mut inert = Vec::new();
    while let Some(round) = a_circle(knots) {
        let corrected = round.iter().filter_map(|node| {
            let (_, at, op) = knots.get(node)?.before.as_ref()?;
            Some(((*at, *op), *node))
        });
        let chosen = corrected.max().map(|(_, node)| node).or_else(|| round.iter().max().copied());
        let Some(node) = chosen else { break };
        inert.push(node);
        if let Some(knot) = knots.get_mut(&node) {
            knot.parents = knot.before.take().map(|(parents, _, _)| parents).unwrap_or_default();
        }
    }
    inert
}

/// The nodes of some circle.
fn a_circle(knots: &BTreeMap<NodeId, Knot>) -> Option<Vec<NodeId>> {
    let mut done: BTreeSet<NodeId> = BTreeSet::new();
    for &start in knots.keys() {
        let mut way: Vec<(NodeId, usize)> = vec![(start, 0)];
        let mut open: BTreeSet<NodeId> = BTreeSet::from([start]);
        while let Some(&mut (node, ref mut at)) = way.last_mut() {
            let parent = knots.get(&node).filter(|_| !done.contains(&node)).and_then(|k| k.parents.get(*at));
            *at += 1;
            match parent {
                None => {
                    done.insert(node);
                    open.remove(&node);
                    way.pop();
                }
                Some(parent) if open.contains(parent) => {
                    let begin = way.iter().position(|(node, _)| node == parent)?;
                    return Some(way.split_off(begin).into_iter().map(|(node, _)| node).collect());
                }
                Some(parent) => {
                    open.insert(*parent);
                    way.push((*parent, 0));
                }
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use uuid::Uuid;

    use super::*;

    fn node(n: u128) -> NodeId {
        NodeId(Uuid::from_u128(n))
    }

    fn graph(edges: &[(u128, &[u128])]) -> BTreeMap<NodeId, Vec<NodeId>> {
        edges.iter().map(|(child, of)| (node(*child), of.iter().map(|p| node(*p)).collect())).collect()
    }

    #[test]
    fn the_way_round_is_told() {
        let before = graph(&[(2, &[3]), (3, &[1, 4])]);
        let way = circle(node(1), &[node(2)], &before).expect("a circle");
        assert_eq!(way, [node(1), node(2), node(3), node(1)]);
        assert_eq!(circle(node(1), &[node(1)], &before), Some(vec![node(1), node(1)]));
        assert_eq!(circle(node(5), &[node(2)], &before), None);
    }

    #[test]
    fn of_two_corrections_that_make_a_circle_the_later_one_is_inert() {
        let knot = |parents: &[u128], before: Option<(&[u128], i64)>| Knot {
            parents: parents.iter().map(|p| node(*p)).collect(),
            before: before.map(|(of, at)| {
                (of.iter().map(|p| node(*p)).collect(), At::from_seconds(at), OpId(Uuid::from_u128(9)))
            }),
        };
        let mut knots = BTreeMap::from([
            (node(1), knot(&[2], Some((&[7], 10)))),
            (node(2), knot(&[3], None)),
            (node(3), knot(&[1], Some((&[8], 20)))),
        ]);
        assert_eq!(untangle(&mut knots), [node(3)]);
        assert_eq!(knots.get(&node(3)).expect("there").parents, [node(8)]);
        assert_eq!(knots.get(&node(1)).expect("there").parents, [node(2)]);
    }

    /// The plain way: every way up, one step at a time.
    fn reaches(from: NodeId, to: NodeId, before: &BTreeMap<NodeId, Vec<NodeId>>, left: usize) -> bool {
        let parents = before.get(&from).cloned().unwrap_or_default();
        parents.into_iter().any(|p| p == to || (left > 0 && reaches(p, to, before, left - 1)))
    }

    proptest! {
        #[test]
        fn a_circle_is_found_where_the_plain_way_finds_one(edges in proptest::collection::vec((0u128..7, 0u128..7), 0..9)) {
            let mut before: BTreeMap<NodeId, Vec<NodeId>> = BTreeMap::new();
            for (child, parent) in edges {
                before.entry(node(child)).or_default().push(node(parent));
            }
            for at in 0..7 {
                let parents = before.get(&node(at)).cloned().unwrap_or_default();
                let found = circle(node(at), &parents, &before);
                prop_assert_eq!(found.is_some(), reaches(node(at), node(at), &before, 8));
                if let Some(way) = found {
                    prop_assert!(way.windows(2).all(|s| before.get(&s[0]).is_some_and(|of| of.contains(&s[1]))));
                }
            }
            let mut knots: BTreeMap<NodeId, Knot> =
                before.iter().map(|(n, parents)| (*n, Knot { parents: parents.clone(), before: None })).collect();
            untangle(&mut knots);
            let left: BTreeMap<NodeId, Vec<NodeId>> = knots.into_iter().map(|(n, knot)| (n, knot.parents)).collect();
            let order = ancestors_first(&left);
            for (at, n) in order.iter().enumerate() {
                let early = |p: &NodeId| order.iter().position(|other| other == p).is_none_or(|place| place < at);
                prop_assert!(left.get(n).into_iter().flatten().all(early));
            }
        }
    }
}
