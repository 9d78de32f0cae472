//! How deep each brood of an ancestry stands: as far down as the longest way to it, so that parents always stand below
//! their young.

use std::collections::{BTreeMap, BTreeSet};

use tarn_domain::streams::NodeId;

use super::{GENERATIONS, MOST, Met, Sounding};

/// The depth of everything that the brood descends from.
pub struct Depths {
    /// By node; the brood itself stands at 0.
    pub depths: BTreeMap<NodeId, usize>,
}

/// A step of the walk.
enum Step {
    Into(NodeId),
    OutOf(NodeId),
}

impl Depths {
    /// Of an ancestry. Records of many hands may go in a circle: what leads back to where one comes from is not
    /// followed.
    pub fn of(sounding: &Sounding) -> Self {
        let (mut seen, mut done) = (BTreeSet::new(), Vec::new());
        let mut walk = vec![Step::Into(sounding.of)];
        while let Some(step) = walk.pop() {
            match step {
                Step::OutOf(node) => done.push(node),
                Step::Into(node) if seen.insert(node) => {
                    walk.push(Step::OutOf(node));
                    walk.extend(parents(sounding, node).into_iter().rev().map(Step::Into));
                }
                Step::Into(_) => {}
            }
        }
        // parents are done before their young; where they are not, the records go in a circle
        let order: BTreeMap<NodeId, usize> = done.iter().enumerate().map(|(at, node)| (*node, at)).collect();
        let mut depths = BTreeMap::from([(sounding.of, 0)]);
        for child in done.iter().rev() {
            let depth = depths.get(child).copied().unwrap_or(0);
            for parent in parents(sounding, *child) {
                if order.get(&parent) < order.get(child) {
                    let at = depths.entry(parent).or_insert(0);
                    *at = (*at).max(depth + 1);
                }
            }
        }
        Self { depths }
    }

    /// What has room in the picture.
    pub fn drawn(&self) -> BTreeMap<NodeId, usize> {
        let upto = |deepest: usize| self.depths.iter().filter(move |(_, depth)| **depth <= deepest);
        let deepest = (1..=GENERATIONS).rev().find(|deepest| upto(*deepest).count() <= MOST).unwrap_or(1);
        upto(deepest).map(|(node, depth)| (*node, *depth)).collect()
    }
}

/// The parents that are told, each once.
fn parents(sounding: &Sounding, node: NodeId) -> Vec<NodeId> {
    let Some(Met::Brood(brood)) = sounding.nodes.get(&node) else { return Vec::new() };
    let mut all = brood.fathers.nodes();
    all.extend(brood.mothers.nodes());
    let mut seen = BTreeSet::new();
    all.retain(|parent| sounding.nodes.contains_key(parent) && seen.insert(*parent));
    all
}
