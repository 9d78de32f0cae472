//! The slow reading of water that stays the unit's after its members have left, and of tanks emptied.

use std::collections::BTreeSet;

use tarn_domain::streams::{At, OpId, SystemId, TankId};

use super::held::Terms;
use super::waters::{Node, Water};
use super::{Residue, Slow};

impl Slow<'_> {
    /// What is left in a water, unless it is too old to matter. Where members come as others go it never was without.
    pub(super) fn living<'b>(&'b self, water: &'b Water, at: At) -> impl Iterator<Item = &'b Residue> {
        let is_held = water.stocks.iter().any(|stock| self.held(*stock).is_some());
        let all = water.nodes.iter().filter_map(|node| self.residues.get(node));
        all.filter(move |r| (is_held && r.last == at) || at.seconds() < r.last.seconds() + r.terms.water())
    }

    /// Up to this instant members were in the waters that they were in just before.
    pub(super) fn were_there(&mut self, at: At, before: &[Water]) {
        for water in before {
            if water.stocks.iter().all(|stock| self.held(*stock).is_none()) {
                continue;
            }
            for node in &water.nodes {
                if let Some(residue) = self.residues.get_mut(node) {
                    residue.last = at;
                }
            }
        }
    }

    /// What a water takes on.
    pub(super) fn leave_in(&mut self, at: At, water: &Water, terms: &Terms) {
        let living = self.living(water, at).map(|r| r.last).max();
        let last = if water.stocks.is_empty() { living } else { Some(at) };
        let Some(last) = last else { return };
        for node in &water.nodes {
            self.residues.insert(*node, Residue { terms: terms.clone(), last });
        }
    }

    /// Tanks and systems that were emptied, as they stood just before.
    pub(super) fn empty(&mut self, at: At, before: &[Water]) {
        for (id, tank) in &self.room.tanks {
            for emptied in tank.emptied.iter().filter(|e| e.at == at) {
                let alone = Water { nodes: [Node::Tank(*id)].into(), ..Water::default() };
                let counts = before.contains(&alone);
                self.emptied(at, counts.then_some(&alone), emptied.op);
            }
        }
        for (id, system) in &self.room.systems {
            for emptied in system.emptied.iter().filter(|e| e.at == at) {
                let water = before.iter().find(|water| water.nodes.contains(&Node::Sump(*id)));
                let own = self.own(*id, at);
                let counts = water.filter(|water| water.stocks.is_empty() && water.nodes == own);
                self.emptied(at, counts, emptied.op);
            }
        }
    }

    fn emptied(&mut self, at: At, water: Option<&Water>, op: OpId) {
        let Some(water) = water else {
            self.unemptied.insert(op);
            return;
        };
        let lives = self.living(water, at).next().is_some();
        self.seen.emptied += usize::from(lives);
        self.residues.retain(|node, _| !water.nodes.contains(node));
    }

    /// A system's sump, its tanks, and the boxes in them, just before an instant.
    fn own(&self, system: SystemId, at: At) -> BTreeSet<Node> {
        let was = |from: At, until: Option<At>| from < at && until.is_none_or(|until| until >= at);
        let mut tanks: BTreeSet<TankId> = BTreeSet::new();
        for _ in 0..=self.room.tanks.len() {
            let on = |id: &TankId| {
                let tank = self.room.tanks[id];
                tank.plumbing.iter().any(|p| was(p.from, p.until) && p.system == Some(system))
                    || tank
                        .hung
                        .iter()
                        .any(|h| was(h.from, h.until) && h.with.is_some_and(|t| tanks.contains(&t)))
            };
            let all = self.room.tanks.keys().copied().filter(on).collect();
            tanks = all;
        }
        tanks.into_iter().map(Node::Tank).chain([Node::Sump(system)]).collect()
    }
}
