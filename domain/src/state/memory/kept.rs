//! What a room in memory keeps of the answers that it gave, so that the next ones go on from there; and what makes it
//! forget them. Must not know how an answer comes about.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::Memory;
use crate::lineage::Ancestor;
use crate::quarantine::Kept;
use crate::state::entity::EntityState;
use crate::state::otherwise::{self, EVER};
use crate::state::quarantine::Recalls;
use crate::state::views::view;
use crate::streams::{At, Entity, NodeId, Received};

/// Every node that a room knows of, as it may travel.
pub type Lineage = Arc<BTreeMap<NodeId, Ancestor>>;

impl Memory {
    /// What the room knows of lineage: put together once, and again only when something has changed.
    pub fn lineage(&self) -> Lineage {
        let put_together = || Arc::new(view(self.states()).records().known());
        match self.lineage.lock() {
            Ok(mut known) => known.get_or_insert_with(put_together).clone(),
            Err(_) => put_together(),
        }
    }

    /// The sign-offs that were recalled up to a push, as far as somebody asked.
    pub(in crate::state) fn recalled(&self) -> (Received, Recalls) {
        self.recalled.lock().map(|known| known.clone()).unwrap_or_default()
    }

    /// Keeps what was found up to a push.
    pub(in crate::state) fn keep_recalled(&self, push: Received, recalled: &Recalls) {
        if let Ok(mut known) = self.recalled.lock() {
            *known = (push, recalled.clone());
        }
    }

    /// From when on the clock reads a thing otherwise than as it was.
    pub(super) fn otherwise(&self, entity: Entity, old: Option<&EntityState>) -> Option<At> {
        let slot = self.slots.get(&entity)?;
        let since = otherwise::since(old, slot.state.as_deref()?)?;
        // What spoke of a thing before it was made speaks of it from now on.
        let is_known = slot.naming.first() == slot.makers.first() || entity == Entity::ROOM;
        Some(if old.is_none() && !is_known { EVER } else { since })
    }

    /// Whether anything was kept that may have to be forgotten.
    pub(super) fn keeps_readings(&mut self) -> bool {
        self.kept.get_mut().is_ok_and(|kept| !kept.is_empty())
    }

    /// What was read of this instant, and later ones, no longer holds.
    pub(super) fn forget_readings(&mut self, at: At) {
        if let Ok(kept) = self.kept.get_mut() {
            kept.forget_from(at);
        }
    }

    /// What was kept of the last reading, for another to go on from.
    pub(in crate::state) fn take_kept(&self) -> Kept {
        self.kept.lock().map(|mut kept| std::mem::take(&mut *kept)).unwrap_or_default()
    }

    /// Keeps it again.
    pub(in crate::state) fn put_kept(&self, kept: Kept) {
        if let Ok(mut there) = self.kept.lock() {
            *there = kept;
        }
    }

    /// Whether all ops here were accepted; only then it is settled when they were received.
    pub(in crate::state) fn is_settled(&self) -> bool {
        self.unaccepted == 0
    }
}
