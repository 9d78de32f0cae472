//! A room held in memory: its ops, which of them are live, and the state of everything. What the server keeps
//! in its cache. Must not know where ops are stored.

use std::collections::{BTreeMap, HashMap};
use std::convert::Infallible;
use std::sync::Arc;

use super::entity::{EntityState, RoomText, fold_entity};
use crate::catalogue::{Body, Op};
use crate::streams::{Acceptance, Clock, Entity, Linked, Links, OpId, Shelf, Touch, settle, touch};

/// One op in memory.
#[derive(Debug, Clone)]
pub struct Entry {
    /// What the engine knows of it.
    pub linked: Linked,
    /// Its body; none for a log, which is read from the store when somebody asks.
    pub body: Option<Arc<Body>>,
    /// By whom and when it was accepted.
    pub accepted: Option<Acceptance>,
    /// Its number in the stream (0 while it has none).
    pub seq: u64,
}

#[derive(Debug, Default)]
struct Slot {
    makers: Vec<OpId>,
    /// State ops that name it.
    naming: Vec<OpId>,
    /// Those of them that touch it.
    touching: Vec<OpId>,
    /// Numbers of the logs about it, rising.
    logs: Vec<u64>,
    state: Option<Arc<EntityState>>,
}

/// A room's ops and state.
#[derive(Debug, Default)]
pub struct Memory {
    entries: HashMap<OpId, Entry>,
    slots: HashMap<Entity, Slot>,
    withdrawals: HashMap<OpId, Vec<OpId>>,
    relied: HashMap<OpId, u32>,
    greatest: Option<Clock>,
}

impl Shelf for Memory {
    type Error = Infallible;

    fn linked(&mut self, op: OpId) -> Result<Option<Linked>, Infallible> {
        Ok(self.entries.get(&op).map(|e| e.linked.clone()))
    }

    fn makers(&mut self, entity: Entity) -> Result<Vec<OpId>, Infallible> {
        Ok(self.slots.get(&entity).map(|s| s.makers.clone()).unwrap_or_default())
    }

    fn naming(&mut self, entity: Entity) -> Result<Vec<OpId>, Infallible> {
        Ok(self.slots.get(&entity).map(|s| s.naming.clone()).unwrap_or_default())
    }

    fn withdrawals(&mut self, op: OpId) -> Result<Vec<OpId>, Infallible> {
        Ok(self.withdrawals.get(&op).cloned().unwrap_or_default())
    }

    fn set_live(&mut self, op: OpId, live: bool) -> Result<(), Infallible> {
        if let Some(entry) = self.entries.get_mut(&op) {
            entry.linked.live = live;
        }
        Ok(())
    }
}

impl Memory {
    /// Takes ops in and refolds what they touch. Returns the things whose state changed, each with the state it had.
    /// Ops that are here already are left as they are.
    pub fn add(
        &mut self,
        ops: impl IntoIterator<Item = (Op, Option<Acceptance>, u64)>,
    ) -> Vec<(Entity, Option<Arc<EntityState>>)> {
        let mut added = Vec::new();
        for (op, accepted, seq) in ops {
            if !self.entries.contains_key(&op.id) {
                added.push(op.id);
                self.put(op, accepted, seq);
            }
        }
        let Ok(dirty) = settle(self, &added);
        dirty.into_iter().map(|entity| (entity, self.refold(entity))).collect()
    }

    fn put(&mut self, op: Op, accepted: Option<Acceptance>, seq: u64) {
        let links = op.body.links();
        let order = op.order();
        self.greatest = self.greatest.max(Some(op.clock));
        for entity in &links.makes {
            self.slots.entry(*entity).or_default().makers.push(op.id);
        }
        for entity in links.named() {
            let slot = self.slots.entry(entity).or_default();
            if links.log { slot.logs.push(seq) } else { slot.naming.push(op.id) }
        }
        for entity in links.touched() {
            self.slots.entry(entity).or_default().touching.push(op.id);
        }
        if let Some(target) = links.withdraws {
            self.withdrawals.entry(target).or_default().push(op.id);
        }
        for &relied in op.body.relies() {
            *self.relied.entry(relied).or_default() += 1;
        }
        let body = (!links.log).then(|| Arc::new(op.body));
        let decision = accepted.is_some_and(|a| a.decision);
        let linked = Linked { order, links: Arc::new(links), decision, live: false };
        self.entries.insert(op.id, Entry { linked, body, accepted, seq });
    }

    /// Folds one thing anew; returns the state it had.
    fn refold(&mut self, entity: Entity) -> Option<Arc<EntityState>> {
        let ids = self.slots.get(&entity).map(|s| s.touching.clone()).unwrap_or_default();
        let mut touches: Vec<Touch<Arc<Body>>> = Vec::with_capacity(ids.len());
        for id in ids {
            let Some(entry) = self.entries.get(&id).cloned() else { continue };
            let Some(body) = entry.body else { continue };
            let Ok(mut touch) = touch(self, &entry.linked, entity);
            touch.accepted = entry.accepted;
            touches.push(touch.map(|()| body));
        }
        let state = Arc::new(fold_entity(entity, touches));
        self.slots.entry(entity).or_default().state.replace(state)
    }

    /// The state of a thing.
    pub fn state(&self, entity: Entity) -> Option<&Arc<EntityState>> {
        self.slots.get(&entity).and_then(|s| s.state.as_ref())
    }

    /// Everything with its state, in order.
    pub fn states(&self) -> BTreeMap<Entity, &EntityState> {
        self.slots.iter().filter_map(|(e, s)| Some((*e, s.state.as_deref()?))).collect()
    }

    /// The canonical text of the whole state.
    pub fn text(&self) -> String {
        let mut text = RoomText::default();
        for (entity, state) in self.states() {
            text.add(entity, state);
        }
        text.finish()
    }

    /// An op that is here.
    pub fn entry(&self, op: OpId) -> Option<&Entry> {
        self.entries.get(&op)
    }

    /// How many ops are here.
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// Whether any op here makes this thing, live or not.
    pub fn is_made(&self, entity: Entity) -> bool {
        self.slots.get(&entity).is_some_and(|s| !s.makers.is_empty())
    }

    /// Whether a decision rests on this op.
    pub fn is_relied_on(&self, op: OpId) -> bool {
        self.relied.contains_key(&op)
    }

    /// The greatest clock of all ops here.
    pub fn greatest_clock(&self) -> Clock {
        self.greatest.unwrap_or(Clock::START)
    }

    /// The ops that touch a thing, in no order.
    pub fn touching(&self, entity: Entity) -> impl Iterator<Item = &Entry> {
        let ids = self.slots.get(&entity).map(|s| s.touching.as_slice()).unwrap_or_default();
        ids.iter().filter_map(|id| self.entries.get(id))
    }

    /// The numbers of the logs about a thing, in order of arrival.
    pub fn logs(&self, entity: Entity) -> &[u64] {
        self.slots.get(&entity).map(|s| s.logs.as_slice()).unwrap_or_default()
    }

    /// What an op refers to that nothing here makes.
    pub fn missing(&self, links: &Links) -> Vec<Entity> {
        links.refers.iter().copied().filter(|e| !self.is_made(*e)).collect()
    }

    /// About how many bytes this takes, for a bounded cache.
    pub fn weight(&self) -> usize {
        self.entries.len() * 420 + self.slots.len() * 900
    }
}
