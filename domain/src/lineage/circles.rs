//! Circles in what a room knows: the server refuses them, so none should ever be there. Should one be (records that were
//! brought in from elsewhere), the latest correction on it does not count, and that is a finding.

use std::borrow::Cow;
use std::collections::BTreeMap;

use super::ancestry::{Records, group_of};
use super::breeders::unnamed_sire;
use super::brood::BroodState;
use super::copy::Ancestor;
use super::graph::{Knot, untangle};
use super::ops::Parents;
use super::told::Telling;
use crate::streams::{At, NodeId, OpId};

/// The nodes that both sides are of.
fn parents([sires, dams]: [&Option<Parents>; 2]) -> Vec<NodeId> {
    let all = sires.iter().chain(dams).flat_map(|side| &side.of);
    all.filter_map(|parent| parent.node.id().filter(|node| *node != unnamed_sire(parent.stock))).collect()
}

/// The parents before the latest correction, and when and by which entry that was.
fn corrected(brood: &BroodState) -> Option<(Vec<NodeId>, At, OpId)> {
    let last = brood.changes.iter().rfind(|change| change.what == Telling::Corrected)?;
    let [sires, dams] = brood.before.as_ref()?;
    Some((parents([sires, dams]), last.at, last.op))
}

impl<'a> Records<'a> {
    /// The broods of this room that would be their own ancestors, and the entry whose word on that does not count.
    pub fn tangled(&self) -> Vec<(NodeId, OpId)> {
        let told_by = |node: NodeId| {
            let brood = self.broods.get(&node)?;
            Some((node, corrected(brood).map(|(_, _, op)| op).or(brood.made)?))
        };
        self.inert().into_keys().filter_map(told_by).collect()
    }

    /// The broods whose parents don't count as they are told: once those of before the latest correction do, twice none.
    pub(super) fn inert(&self) -> BTreeMap<NodeId, usize> {
        let mut copies: BTreeMap<NodeId, &Ancestor> = BTreeMap::new();
        for copy in &self.copies {
            copies.entry(copy.node).or_insert(copy);
        }
        copies.extend(self.told.iter().map(|(node, told)| (*node, *told)));
        let of = |node: NodeId| group_of(node, |node| copies.get(&node).copied()).id();
        let mut knots: BTreeMap<NodeId, Knot> = BTreeMap::new();
        for (&node, copy) in copies.iter().filter(|(_, copy)| copy.brood().is_some()) {
            let parents = copy.before().into_iter().filter_map(of).collect();
            knots.insert(node, Knot { parents, before: None });
        }
        for (&node, brood) in self.broods.iter().filter(|(node, _)| !self.told.contains_key(node)) {
            let knot = Knot { parents: parents([&brood.sires, &brood.dams]), before: corrected(brood) };
            knots.insert(node, knot);
        }
        let mut inert = BTreeMap::new();
        for node in untangle(&mut knots) {
            let had_before = self.broods.get(&node).is_some_and(|brood| corrected(brood).is_some());
            *inert.entry(node).or_insert(usize::from(!had_before)) += 1;
        }
        inert
    }

    /// The broods of the room as their parents count.
    pub(super) fn counting(&self, inert: &BTreeMap<NodeId, usize>) -> BTreeMap<NodeId, Cow<'a, BroodState>> {
        let stands = |node: &NodeId, brood: &'a BroodState| {
            let [sires, dams] = match inert.get(node) {
                None => return Cow::Borrowed(brood),
                Some(1) => brood.before.clone().unwrap_or_default(),
                Some(_) => [None, None],
            };
            Cow::Owned(BroodState { sires, dams, ..brood.clone() })
        };
        self.broods.iter().map(|(node, brood)| (*node, stands(node, brood))).collect()
    }
}
