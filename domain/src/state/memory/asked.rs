//! What a room in memory is asked. Must not change it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::{Entry, Memory};
use crate::catalogue::Body;
use crate::lineage::BroodState;
use crate::parcels::ParcelState;
use crate::quarantine::{Evidence, RoomFacts};
use crate::rooms::StockState;
use crate::state::dates::Dates;
use crate::state::entity::{EntityState, RoomText};
use crate::streams::{Clock, Entity, EntityKind, Links, NodeId, OpId, ParcelId, Standing, StockId};

impl Memory {
    /// All ops here, in order of arrival.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// What the logs tell the quarantine clock that count, in the order in which they do.
    pub fn evidence(&self) -> impl Iterator<Item = &Evidence> {
        let live = self.told.iter().filter(|(place, _)| self.entries[*place].linked.live);
        live.map(|(_, evidence)| evidence)
    }

    /// All ops here with their dates, in order of arrival.
    pub(in crate::state) fn dated(&self) -> impl Iterator<Item = (&Dates, &Entry)> {
        self.dates.iter().zip(&self.entries)
    }

    /// The sign-offs here that count, in order of arrival.
    pub(in crate::state) fn sign_offs(&self) -> impl Iterator<Item = &Entry> {
        self.sign_offs.iter().map(|place| &self.entries[*place]).filter(|entry| entry.linked.live)
    }

    /// All withdrawals: what is taken back, and by what.
    pub(in crate::state) fn all_withdrawals(&self) -> impl Iterator<Item = (&Entry, &Entry)> {
        let both = |(target, by): (&OpId, &OpId)| Some((self.entry(*target)?, self.entry(*by)?));
        self.withdrawals
            .iter()
            .flat_map(|(target, by)| by.iter().map(move |by| (target, by)))
            .filter_map(both)
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
    pub(in crate::state) fn each_state(&self) -> impl Iterator<Item = (Entity, &EntityState)> {
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

    /// Whether a decision rests on this op: names it, or speaks of something that is there only by it. So does a parcel
    /// that took fish of its brood or of its founders, whichever stock they had come to.
    pub fn is_relied_on(&self, op: OpId) -> bool {
        let mut seen = BTreeSet::from([op]);
        let mut next = vec![op];
        while let Some(id) = next.pop() {
            if self.relied.contains_key(&id) {
                return true;
            }
            let Some(entry) = self.entry(id).filter(|entry| entry.linked.live) else { continue };
            if entry.linked.decision {
                return true;
            }
            let stands = |other: &OpId| *other != id && self.entry(*other).is_some_and(|e| e.linked.live);
            let founders = entry.body.as_deref().and_then(Body::founders).map(|founders| founders.node);
            if let Some(node) = founders.filter(|node| self.sent.contains(node))
                && !self.founding[&node].iter().any(stands)
            {
                return true;
            }
            for made in &entry.linked.links.makes {
                let Some(slot) = self.slots.get(made) else { continue };
                if slot.makers.iter().any(stands) {
                    continue;
                }
                if made.kind == EntityKind::Brood && self.sent.contains(&NodeId(made.id)) {
                    return true;
                }
                let rests = |other: &&OpId| {
                    self.entry(**other)
                        .is_some_and(|e| e.linked.links.refers.contains(made) && !e.linked.links.log)
                };
                next.extend(slot.naming.iter().filter(rests).filter(|other| seen.insert(**other)));
            }
        }
        false
    }

    /// A stock, if anything told of it.
    pub fn stock(&self, id: StockId) -> Option<&StockState> {
        if let EntityState::Stock(stock) = &**self.state(id.into())? { Some(stock) } else { None }
    }

    /// A brood that was made here.
    pub fn brood(&self, id: NodeId) -> Option<&BroodState> {
        self.told_of(id).filter(|brood| brood.made.is_some())
    }

    /// A brood as it is known here, whether it was made here or its home told of it.
    pub fn told_of(&self, id: NodeId) -> Option<&BroodState> {
        if let EntityState::Brood(brood) = &**self.state(id.into())? { Some(brood) } else { None }
    }

    /// A parcel, if anything told of it.
    pub fn parcel(&self, id: ParcelId) -> Option<&ParcelState> {
        if let EntityState::Parcel(parcel) = &**self.state(id.into())? { Some(parcel) } else { None }
    }

    /// Whether an op was taken back, and only by ops of a later clock.
    pub(in crate::state) fn taken_back_after(&self, op: OpId, clock: Clock) -> bool {
        let by = self.withdrawals.get(&op).map(Vec::as_slice).unwrap_or_default();
        let later = |id: &OpId| self.entry(*id).is_some_and(|entry| entry.linked.order.clock > clock);
        !by.is_empty() && by.iter().all(later)
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
        let lineage =
            self.lineage.lock().map_or(0, |known| known.as_ref().map_or(0, |known| known.len() * 600));
        self.entries.len() * 480 + self.slots.len() * 900 + kept + lineage
    }
}
