//! A shelf of plain maps, as the client keeps one in its file: ops come and go, and only what `settle` and
//! `unsettle` name is folded anew.

use std::collections::{BTreeMap, BTreeSet};
use std::convert::Infallible;
use std::sync::Arc;

use tarn_domain::state::{EntityState, RoomText, fold_entity};
use tarn_domain::streams::{Entity, Linked, OpId, Shelf, settle, touch, unsettle};

use crate::history::Accepted;

/// A room on this shelf.
#[derive(Default)]
pub struct Plain {
    ops: BTreeMap<OpId, (Accepted, Linked)>,
    states: BTreeMap<Entity, EntityState>,
}

impl Shelf for Plain {
    type Error = Infallible;

    fn linked(&mut self, op: OpId) -> Result<Option<Linked>, Infallible> {
        Ok(self.ops.get(&op).map(|(_, linked)| linked.clone()))
    }

    fn makers(&mut self, entity: Entity) -> Result<Vec<OpId>, Infallible> {
        Ok(self.ids(|linked| linked.links.makes.contains(&entity)))
    }

    fn naming(&mut self, entity: Entity) -> Result<Vec<OpId>, Infallible> {
        Ok(self.ids(|linked| linked.links.named().contains(&entity)))
    }

    fn withdrawals(&mut self, op: OpId) -> Result<Vec<OpId>, Infallible> {
        Ok(self.ids(|linked| linked.links.withdraws == Some(op)))
    }

    fn set_live(&mut self, op: OpId, live: bool) -> Result<(), Infallible> {
        self.ops.get_mut(&op).expect("here").1.live = live;
        Ok(())
    }
}

impl Plain {
    fn ids(&self, which: impl Fn(&Linked) -> bool) -> Vec<OpId> {
        self.ops.iter().filter(|(_, (_, linked))| which(linked)).map(|(id, _)| *id).collect()
    }

    /// Takes ops in. Returns what `settle` says has changed.
    pub fn add(&mut self, ops: &[Accepted]) -> BTreeSet<Entity> {
        for (op, accepted) in ops {
            let decision = accepted.is_some_and(|a| a.decision);
            let linked =
                Linked { order: op.order(), links: Arc::new(op.body.links()), decision, live: false };
            self.ops.insert(op.id, ((op.clone(), *accepted), linked));
        }
        let added: Vec<OpId> = ops.iter().map(|(op, _)| op.id).collect();
        let Ok(dirty) = settle(self, &added);
        self.refold(&dirty);
        dirty
    }

    /// Takes ops off.
    pub fn remove(&mut self, gone: &[OpId]) -> BTreeSet<Entity> {
        let Ok(dirty) = unsettle(self, gone, |shelf| {
            shelf.ops.retain(|id, _| !gone.contains(id));
            Ok(())
        });
        self.refold(&dirty);
        dirty
    }

    fn refold(&mut self, dirty: &BTreeSet<Entity>) {
        for &entity in dirty {
            let on: Vec<OpId> = self.ids(|linked| linked.links.touched().contains(&entity));
            if on.is_empty() {
                self.states.remove(&entity);
                continue;
            }
            let mut touches = Vec::new();
            for id in on {
                let ((op, accepted), linked) = self.ops[&id].clone();
                let Ok(mut touch) = touch(self, &linked, entity);
                touch.accepted = accepted;
                touches.push(touch.map(|()| Arc::new(op.body)));
            }
            self.states.insert(entity, fold_entity(entity, touches));
        }
    }

    /// What is here.
    pub fn ops(&self) -> Vec<Accepted> {
        self.ops.values().map(|(accepted, _)| accepted.clone()).collect()
    }

    /// The ops that count, logs among them.
    pub fn live(&self) -> BTreeSet<String> {
        self.ids(|linked| linked.live).iter().map(ToString::to_string).collect()
    }

    /// The states.
    pub fn states(&self) -> &BTreeMap<Entity, EntityState> {
        &self.states
    }

    /// The state's text.
    pub fn text(&self) -> String {
        let mut text = RoomText::default();
        for (entity, state) in &self.states {
            text.add(*entity, state);
        }
        text.finish()
    }
}
