//! A room held in memory: its ops, which of them are live, and the state of everything. What the server keeps
//! in its cache. Must not know where ops are stored.

mod asked;
mod kept;

pub use kept::Lineage;

use std::collections::{HashMap, HashSet};
use std::convert::Infallible;
use std::sync::{Arc, Mutex};

use super::dates::Dates;
use super::entity::{EntityState, fold_on, fold_sorted};
use super::evidence::{Told, evidence, told_at};
use super::quarantine::Recalls;
use crate::catalogue::{Body, Op};
use crate::quarantine::Kept;
use crate::rooms::{StockFold, StockState};
use crate::streams::{
    Acceptance, Clock, Entity, EntityKind, Linked, Links, NodeId, OpId, Order, Received, Shelf, Standing,
    StockId, Touch, is_sorted, settle, sort, touch,
};

/// One op in memory.
#[derive(Debug, Clone)]
pub struct Entry {
    /// What the engine knows of it.
    pub linked: Linked,
    /// The word of its kind.
    pub kind: &'static str,
    /// Its body; none for a log that no clock reads, which is read from the store when somebody asks.
    pub body: Option<Arc<Body>>,
    /// By whom and when it was accepted.
    pub accepted: Option<Acceptance>,
    /// Its number in the stream (0 while it has none).
    pub seq: u64,
}

#[derive(Debug, Default)]
struct Slot {
    makers: Vec<OpId>,
    /// The first live one of them; forgotten when one of them goes out or comes on.
    first: Option<Option<Order>>,
    /// Ops that name it, logs among them.
    naming: Vec<OpId>,
    /// Those of them that touch it, by place; rising.
    touching: Vec<usize>,
    /// How the first so many of these stand, in the order in which the fold takes them. Emptied when one of them
    /// may stand otherwise.
    judged: Vec<Touch<Arc<Body>>>,
    /// A stock as far as so many of them were folded.
    folded: Option<(usize, Box<StockFold>)>,
    /// Numbers of the logs about it, rising.
    logs: Vec<u64>,
    state: Option<Arc<EntityState>>,
}

/// A room's ops and state.
#[derive(Debug, Default)]
pub struct Memory {
    entries: Vec<Entry>,
    /// Where among the entries an op is.
    places: HashMap<OpId, usize>,
    slots: HashMap<Entity, Slot>,
    withdrawals: HashMap<OpId, Vec<OpId>>,
    relied: HashMap<OpId, u32>,
    /// Nodes of which fish left in a parcel.
    sent: HashSet<NodeId>,
    /// The ops that bring founders, by their node.
    founding: HashMap<NodeId, Vec<OpId>>,
    /// The dates of the entries, in the same order.
    dates: Vec<Dates>,
    /// The logs that the quarantine clock reads.
    told: Told,
    /// Where among the entries the sign-offs are.
    sign_offs: Vec<usize>,
    greatest: Option<Clock>,
    /// How many were not accepted yet.
    unaccepted: usize,
    /// Inserted, but not folded yet.
    fresh: Vec<OpId>,
    /// What was found of sign-offs up to a push.
    recalled: Mutex<(Received, Recalls)>,
    /// What was kept of the last reading of the quarantine clock.
    kept: Mutex<Kept>,
    /// What the room knows of lineage, once somebody asked, until a thing changes.
    lineage: Mutex<Option<Lineage>>,
}

impl Shelf for Memory {
    type Error = Infallible;

    fn linked(&mut self, op: OpId) -> Result<Option<Linked>, Infallible> {
        Ok(self.entry(op).map(|e| e.linked.clone()))
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
        let Some(&place) = self.places.get(&op) else { return Ok(()) };
        let Linked { order, links, .. } = self.entries[place].linked.clone();
        let before: Vec<_> = links.makes.iter().map(|made| self.first_of(*made)).collect();
        self.entries[place].linked.live = live;
        self.forget(place);
        if let Some(at) = self.entries[place].body.as_deref().and_then(|body| told_at(order.at, body)) {
            self.forget_readings(at);
        }
        for (made, before) in links.makes.iter().zip(before) {
            let Some(slot) = self.slots.get_mut(made) else { continue };
            slot.first = match before {
                None if live => Some(Some(order)),
                Some(first) if live => Some(Some(first.min(order))),
                Some(first) if first == order => None,
                _ => continue,
            };
            // Only where another maker counts than before, what names the thing is judged otherwise.
            if self.first_of(*made) != before {
                self.forget_naming(*made);
            }
        }
        Ok(())
    }

    fn first_maker(&mut self, entity: Entity) -> Result<Option<Order>, Infallible> {
        Ok(self.first_of(entity))
    }

    fn is_taken_back(&mut self, op: OpId) -> Result<bool, Infallible> {
        Ok(self.withdrawals.contains_key(&op))
    }
}

/// Whether the body of an op with these links is kept at hand.
fn is_kept(links: &Links) -> bool {
    !links.log || links.evidence
}

fn entry(
    (order, links, kind): (Order, Links, &'static str),
    body: Option<Arc<Body>>,
    accepted: Option<Acceptance>,
    seq: u64,
) -> Entry {
    let decision = accepted.is_some_and(|a| a.decision);
    let linked = Linked { order, links: Arc::new(links), decision, live: false };
    Entry { linked, kind, body, accepted, seq }
}

impl Memory {
    /// Takes ops in and refolds what they touch. Returns the things whose state changed, each with the state it had.
    /// Ops that are here already are left as they are.
    pub fn add(
        &mut self,
        ops: impl IntoIterator<Item = (Op, Option<Acceptance>, u64)>,
    ) -> Vec<(Entity, Option<Arc<EntityState>>)> {
        for (op, accepted, seq) in ops {
            self.insert(op, accepted, seq);
        }
        self.refold()
    }

    /// Takes one op in, unless it is here already. States are as before until [`Memory::refold`]; so a push of many
    /// ops folds each thing it touches once.
    pub fn insert(&mut self, op: Op, accepted: Option<Acceptance>, seq: u64) {
        if !self.places.contains_key(&op.id) {
            let (order, links, kind) = (op.order(), op.body.links(), op.body.kind());
            let body = is_kept(&links).then(|| Arc::new(op.body));
            self.place(entry((order, links, kind), body, accepted, seq));
        }
    }

    /// The same, of an op that the caller keeps and whose links it has read.
    pub fn insert_copy(&mut self, op: &Op, links: Links, accepted: Option<Acceptance>, seq: u64) {
        if !self.places.contains_key(&op.id) {
            let body = is_kept(&links).then(|| Arc::new(op.body.clone()));
            self.place(entry((op.order(), links, op.body.kind()), body, accepted, seq));
        }
    }

    /// Folds everything anew that the ops inserted since the last time touch; returns it with the states it had.
    pub fn refold(&mut self) -> Vec<(Entity, Option<Arc<EntityState>>)> {
        self.told.sort();
        let fresh = std::mem::take(&mut self.fresh);
        let Ok(dirty) = settle(self, &fresh);
        let changed: Vec<_> = dirty.into_iter().map(|entity| (entity, self.refold_one(entity))).collect();
        if !changed.is_empty()
            && let Ok(known) = self.lineage.get_mut()
        {
            *known = None;
        }
        if self.keeps_readings() {
            let since = changed.iter().filter_map(|(entity, old)| self.otherwise(*entity, old.as_deref()));
            since.min().into_iter().for_each(|at| self.forget_readings(at));
        }
        changed
    }

    fn place(&mut self, entry: Entry) {
        let (id, clock, seq) = (entry.linked.order.id, entry.linked.order.clock, entry.seq);
        let links = entry.linked.links.clone();
        self.fresh.push(id);
        self.greatest = self.greatest.max(Some(clock));
        for entity in &links.makes {
            self.slots.entry(*entity).or_default().makers.push(id);
        }
        for entity in links.named() {
            let slot = self.slots.entry(entity).or_default();
            slot.naming.push(id);
            if links.log {
                slot.logs.push(seq);
            }
        }
        let place = self.entries.len();
        for entity in links.touched() {
            self.slots.entry(entity).or_default().touching.push(place);
        }
        if let Some(target) = links.withdraws {
            self.withdrawals.entry(target).or_default().push(id);
            if let Some(&place) = self.places.get(&target) {
                self.forget(place);
            }
        }
        for &relied in entry.body.iter().flat_map(|body| body.relies()) {
            *self.relied.entry(relied).or_default() += 1;
        }
        match entry.body.as_deref() {
            Some(Body::Redacted(b)) => self.blank(b.entry, &b.fields),
            Some(Body::ParcelSent(b)) => self.sent.extend(b.rows.iter().filter_map(|row| row.node.id())),
            Some(body) => {
                let founders = body.founders().into_iter();
                founders.for_each(|f| self.founding.entry(f.node).or_default().push(id));
            }
            None => {}
        }
        // What comes with an earlier acceptance, after a restore, may tell otherwise of what was found.
        let dates = Dates::of(&entry);
        if let Ok(known) = self.recalled.get_mut()
            && dates.received <= known.0
        {
            *known = Default::default();
        }
        if links.evidence {
            let told = entry.body.as_deref().and_then(|body| evidence(id, dates.at, body));
            told.into_iter().for_each(|told| self.told.add(entry.linked.order, place, told));
        }
        if entry.kind == "quarantine.cleared" {
            self.sign_offs.push(place);
        }
        self.dates.push(dates);
        self.unaccepted += usize::from(entry.accepted.is_none());
        self.places.insert(id, place);
        self.entries.push(entry);
    }

    /// The same room with only those ops that `keep` names, without the logs that no clock reads. Bodies are shared,
    /// not copied.
    pub fn with_only(&self, keep: impl Fn(&Entry) -> bool) -> Self {
        let mut other = Self::default();
        for entry in &self.entries {
            if (entry.body.is_some() || entry.linked.links.withdraws.is_some()) && keep(entry) {
                let linked = Linked { live: false, ..entry.linked.clone() };
                other.place(Entry { linked, ..entry.clone() });
            }
        }
        other.refold();
        other
    }

    /// The first live maker of a thing.
    fn first_of(&mut self, entity: Entity) -> Option<Order> {
        let slot = self.slots.get_mut(&entity)?;
        *slot.first.get_or_insert_with(|| {
            let makers = slot.makers.iter().map(|id| &self.entries[self.places[id]].linked);
            makers.filter(|op| op.live).map(|op| op.order).min()
        })
    }

    /// How the ops that touch a thing stand towards it, in the order in which its fold takes them.
    pub(in crate::state) fn touches(&self, entity: Entity) -> &[Touch<Arc<Body>>] {
        self.slots.get(&entity).map(|slot| slot.judged.as_slice()).unwrap_or_default()
    }

    /// A stock as it would be if the ops that touch it stood as `standing` says; none: the op is left out.
    pub(in crate::state) fn stock_told(
        &self,
        stock: StockId,
        standing: impl Fn(&Touch<Arc<Body>>) -> Option<Standing>,
    ) -> StockState {
        let touches = self.touches(stock.into()).iter();
        let touches: Vec<_> =
            touches.filter_map(|touch| Some(Touch { standing: standing(touch)?, ..touch.clone() })).collect();
        let mut fold = StockFold::default();
        fold_on(&mut fold, stock, &touches);
        fold.state()
    }

    /// Words of an op that no fold reads are gone, wherever its body is kept.
    fn blank(&mut self, op: OpId, fields: &[String]) {
        let Some(&place) = self.places.get(&op) else { return };
        let entry = &mut self.entries[place];
        let Some(body) = entry.body.as_deref().and_then(|body| body.blanked(fields)).map(Arc::new) else {
            return;
        };
        entry.body = Some(body.clone());
        for entity in entry.linked.links.touched() {
            let judged = self.slots.get_mut(&entity).into_iter().flat_map(|slot| &mut slot.judged);
            judged.filter(|touch| touch.written.id == op).for_each(|touch| touch.event = body.clone());
        }
    }

    /// An op may stand otherwise than it was judged.
    fn forget(&mut self, place: usize) {
        let links = &self.entries[place].linked.links;
        for entity in links.makes.iter().chain(&links.changes) {
            if let Some(slot) = self.slots.get_mut(entity)
                && let Some(last) = slot.judged.len().checked_sub(1)
                && slot.touching[last] >= place
            {
                slot.judged.clear();
            }
        }
    }

    /// Everything that names a thing may.
    fn forget_naming(&mut self, entity: Entity) {
        let naming = self.slots.get(&entity).map(|slot| slot.naming.clone()).unwrap_or_default();
        for op in naming {
            self.forget(self.places[&op]);
        }
    }

    /// Folds one thing anew; returns the state it had.
    fn refold_one(&mut self, entity: Entity) -> Option<Arc<EntityState>> {
        let slot = self.slots.entry(entity).or_default();
        let mut judged = std::mem::take(&mut slot.judged);
        let known = judged.len();
        let fresh: Vec<usize> = slot.touching[known..].to_vec();
        for place in fresh {
            let Entry { linked, body: Some(body), accepted, .. } = &self.entries[place] else { continue };
            let (linked, body, accepted) = (linked.clone(), body.clone(), *accepted);
            let Ok(touch) = touch(self, &linked, entity);
            judged.push(Touch { accepted, ..touch.with(body) });
        }
        // Mostly what comes later happened later; then only that is folded.
        let goes_on = is_sorted(&judged[known.saturating_sub(1)..]);
        if !goes_on {
            sort(&mut judged);
        }
        let slot = self.slots.entry(entity).or_default();
        let state = if entity.kind == EntityKind::Stock {
            let folded = slot.folded.take().filter(|(n, _)| goes_on && *n == known);
            let (n, mut fold) = folded.unwrap_or_default();
            fold_on(&mut fold, StockId(entity.id), &judged[n..]);
            let state = fold.state();
            slot.folded = Some((judged.len(), fold));
            Arc::new(EntityState::Stock(Box::new(state)))
        } else {
            Arc::new(fold_sorted(entity, &judged))
        };
        slot.judged = judged;
        slot.state.replace(state)
    }
}
