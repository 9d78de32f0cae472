//! A room held in memory: its ops, which of them are live, and the state of everything. What the server keeps
//! in its cache. Must not know where ops are stored.

use std::collections::{BTreeMap, HashMap};
use std::convert::Infallible;
use std::sync::{Arc, Mutex};

use super::dates::Dates;
use super::entity::{EntityState, RoomText, fold_sorted};
use super::evidence::{Told, evidence};
use super::otherwise::{self, EVER};
use super::quarantine::Recalls;
use crate::catalogue::{Body, Op};
use crate::quarantine::{Evidence, Kept, RoomFacts};
use crate::streams::{
    Acceptance, At, Clock, Entity, Linked, Links, OpId, Order, Received, Shelf, Standing, Touch, settle,
    sort, touch,
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
        let told = self.entries[place].body.as_deref().filter(|_| links.evidence);
        if let Some(told) = told.and_then(|body| evidence(op, order.at, body)) {
            self.forget_readings(told.at());
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

    /// The same, of an op that the caller keeps.
    pub fn insert_copy(&mut self, op: &Op, accepted: Option<Acceptance>, seq: u64) {
        if !self.places.contains_key(&op.id) {
            let (order, links, kind) = (op.order(), op.body.links(), op.body.kind());
            let body = is_kept(&links).then(|| Arc::new(op.body.clone()));
            self.place(entry((order, links, kind), body, accepted, seq));
        }
    }

    /// Folds everything anew that the ops inserted since the last time touch; returns it with the states it had.
    pub fn refold(&mut self) -> Vec<(Entity, Option<Arc<EntityState>>)> {
        self.told.sort();
        let fresh = std::mem::take(&mut self.fresh);
        let Ok(dirty) = settle(self, &fresh);
        let changed: Vec<_> = dirty.into_iter().map(|entity| (entity, self.refold_one(entity))).collect();
        let since = changed.iter().filter_map(|(entity, old)| self.otherwise(*entity, old.as_deref())).min();
        since.into_iter().for_each(|at| self.forget_readings(at));
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

    /// All ops here, in order of arrival.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The sign-offs that were recalled up to a push, as far as somebody asked.
    pub(super) fn recalled(&self) -> (Received, Recalls) {
        self.recalled.lock().map(|known| known.clone()).unwrap_or_default()
    }

    /// Keeps what was found up to a push.
    pub(super) fn keep_recalled(&self, push: Received, recalled: &Recalls) {
        if let Ok(mut known) = self.recalled.lock() {
            *known = (push, recalled.clone());
        }
    }

    /// What the logs tell the quarantine clock that count, in the order in which they do.
    pub fn evidence(&self) -> impl Iterator<Item = &Evidence> {
        let live = self.told.iter().filter(|(place, _)| self.entries[*place].linked.live);
        live.map(|(_, evidence)| evidence)
    }

    /// All ops here with their dates, in order of arrival.
    pub(super) fn dated(&self) -> impl Iterator<Item = (&Dates, &Entry)> {
        self.dates.iter().zip(&self.entries)
    }

    /// The sign-offs here that count, in order of arrival.
    pub(super) fn sign_offs(&self) -> impl Iterator<Item = &Entry> {
        self.sign_offs.iter().map(|place| &self.entries[*place]).filter(|entry| entry.linked.live)
    }

    /// All withdrawals: what is taken back, and by what.
    pub(super) fn all_withdrawals(&self) -> impl Iterator<Item = (&Entry, &Entry)> {
        let both = |(target, by): (&OpId, &OpId)| Some((self.entry(*target)?, self.entry(*by)?));
        self.withdrawals
            .iter()
            .flat_map(|(target, by)| by.iter().map(move |by| (target, by)))
            .filter_map(both)
    }

    /// The first live maker of a thing.
    fn first_of(&mut self, entity: Entity) -> Option<Order> {
        let slot = self.slots.get_mut(&entity)?;
        *slot.first.get_or_insert_with(|| {
            let makers = slot.makers.iter().map(|id| &self.entries[self.places[id]].linked);
            makers.filter(|op| op.live).map(|op| op.order).min()
        })
    }

    /// From when on the clock reads a thing otherwise than as it was.
    fn otherwise(&self, entity: Entity, old: Option<&EntityState>) -> Option<At> {
        let slot = self.slots.get(&entity)?;
        let since = otherwise::since(old, slot.state.as_deref()?)?;
        // What spoke of a thing before it was made speaks of it from now on.
        let is_known = slot.naming.first() == slot.makers.first() || entity == Entity::ROOM;
        Some(if old.is_none() && !is_known { EVER } else { since })
    }

    /// What was read of this instant, and later ones, no longer holds.
    fn forget_readings(&mut self, at: At) {
        if let Ok(kept) = self.kept.get_mut() {
            kept.forget_from(at);
        }
    }

    /// What was kept of the last reading, for another to go on from.
    pub(super) fn take_kept(&self) -> Kept {
        self.kept.lock().map(|mut kept| std::mem::take(&mut *kept)).unwrap_or_default()
    }

    /// Keeps it again.
    pub(super) fn put_kept(&self, kept: Kept) {
        if let Ok(mut there) = self.kept.lock() {
            *there = kept;
        }
    }

    /// Whether all ops here were accepted; only then it is settled when they were received.
    pub(super) fn is_settled(&self) -> bool {
        self.unaccepted == 0
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
        let fresh: Vec<usize> = slot.touching[judged.len()..].to_vec();
        for place in fresh {
            let Entry { linked, body: Some(body), accepted, .. } = &self.entries[place] else { continue };
            let (linked, body, accepted) = (linked.clone(), body.clone(), *accepted);
            let Ok(touch) = touch(self, &linked, entity);
            judged.push(Touch { accepted, ..touch.with(body) });
        }
        sort(&mut judged);
        let state = Arc::new(fold_sorted(entity, &judged));
        let slot = self.slots.entry(entity).or_default();
        slot.judged = judged;
        slot.state.replace(state)
    }

    /// The state of a thing.
    pub fn state(&self, entity: Entity) -> Option<&Arc<EntityState>> {
        self.slots.get(&entity).and_then(|s| s.state.as_ref())
    }

    /// Everything with its state, in order.
    pub fn states(&self) -> BTreeMap<Entity, &EntityState> {
        self.each_state().collect()
    }

    /// The same in no order.
    pub(super) fn each_state(&self) -> impl Iterator<Item = (Entity, &EntityState)> {
        self.slots.iter().filter_map(|(e, s)| Some((*e, s.state.as_deref()?)))
    }

    /// What was decided of the room as a whole, if anything was.
    pub fn facts(&self) -> Option<&RoomFacts> {
        match self.state(Entity::ROOM).map(Arc::as_ref) {
            Some(EntityState::Room(facts)) => Some(facts),
            _ => None,
        }
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
        self.places.get(&op).map(|place| &self.entries[*place])
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
        let places = self.slots.get(&entity).map(|s| s.touching.as_slice()).unwrap_or_default();
        places.iter().map(|place| &self.entries[*place])
    }

    /// The numbers of the logs about a thing, in order of arrival.
    pub fn logs(&self, entity: Entity) -> &[u64] {
        self.slots.get(&entity).map(|s| s.logs.as_slice()).unwrap_or_default()
    }

    /// The logs about a thing, without their bodies, in order of arrival.
    pub fn logging(&self, entity: Entity) -> impl Iterator<Item = &Entry> {
        let naming = self.slots.get(&entity).map(|s| s.naming.as_slice()).unwrap_or_default();
        naming.iter().filter_map(|id| self.entry(*id)).filter(|entry| entry.linked.links.log)
    }

    /// All ops here, the last to arrive first.
    pub fn latest(&self) -> impl Iterator<Item = &Entry> {
        self.entries.iter().rev()
    }

    /// Whether an entry counts, and if not, why. (Two that make the same thing both count as live here.)
    pub fn standing(&self, entry: &Entry) -> Standing {
        let linked = &entry.linked;
        let fixed = linked.decision || linked.links.withdraws.is_some();
        match (linked.live, fixed || !self.withdrawals.contains_key(&linked.order.id)) {
            (true, _) => Standing::Live,
            (false, true) => Standing::Inert,
            (false, false) => Standing::Withdrawn,
        }
    }

    /// The ops that take this one back.
    pub fn taking_back(&self, op: OpId) -> impl Iterator<Item = &Entry> {
        let ids = self.withdrawals.get(&op).map(Vec::as_slice).unwrap_or_default();
        ids.iter().filter_map(|id| self.entry(*id))
    }

    /// What an op refers to that nothing here makes.
    pub fn missing(&self, links: &Links) -> Vec<Entity> {
        links.refers.iter().copied().filter(|e| !self.is_made(*e)).collect()
    }

    /// About how many bytes this takes, for a bounded cache.
    pub fn weight(&self) -> usize {
        let kept = self.kept.lock().map_or(0, |kept| kept.weight());
        self.entries.len() * 480 + self.slots.len() * 900 + kept
    }
}
