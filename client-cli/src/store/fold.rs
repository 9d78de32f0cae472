//! Brings liveness and states up to date after ops came or went, touching only what they touch.

use std::collections::BTreeSet;
use std::sync::Arc;

use rusqlite::params;
use tarn_domain::catalogue::Body;
use tarn_domain::state::{EntityState, fold_entity};
use tarn_domain::streams::{Entity, OpId, Touch, settle, touch, unsettle};

use super::shelf::{CHANGES, SqlShelf};
use super::{StoreError, Stored};

impl SqlShelf<'_> {
    /// Ops that were put on the shelf begin to count; the states they touch are folded anew. `also` are things whose
    /// ops were accepted meanwhile.
    pub fn added(&mut self, ids: &[OpId], also: BTreeSet<Entity>) -> Stored {
        let mut dirty = settle(self, ids)?;
        dirty.extend(also);
        self.refold(dirty)
    }

    /// Ops stop counting and leave the shelf.
    pub fn gone(&mut self, ids: &[OpId]) -> Stored<BTreeSet<Entity>> {
        unsettle(self, ids, |shelf| ids.iter().try_for_each(|id| shelf.take(*id)))
    }

    /// Folds things anew and writes their states.
    pub fn refold(&mut self, dirty: BTreeSet<Entity>) -> Stored {
        for entity in dirty {
            let mut touches: Vec<Touch<Arc<Body>>> = Vec::new();
            for id in self.with_roles(entity, CHANGES)? {
                let Some(kept) = self.kept(id)?.cloned() else { continue };
                let mut touch = touch(self, &kept.linked, entity)?;
                touch.accepted = kept.accepted;
                touches.push(touch.map(|()| kept.body));
            }
            let Some(row) = self.entity(entity)? else { continue };
            let state = (!touches.is_empty()).then(|| fold_entity(entity, touches));
            write_state(self.db, row, state.as_ref())?;
        }
        Ok(())
    }
}

/// Writes a thing's state, and what people find it by.
pub(super) fn write_state(db: &rusqlite::Connection, row: i64, state: Option<&EntityState>) -> Stored {
    let text = state.map(serde_json::to_string).transpose();
    let text = text.map_err(|e| StoreError::Corrupt(e.to_string()))?;
    let (name, what, made) = state.map_or((None, None, false), found_by);
    let introduced = matches!(state, Some(EntityState::Stock(s)) if s.came_in());
    let mut set = db.prepare_cached(
        "UPDATE entities SET name = ?, what = ?, made = ?, introduced = ?, state = ? WHERE n = ?",
    )?;
    set.execute(params![name, what, made, introduced, text, row])?;
    Ok(())
}

fn found_by(state: &EntityState) -> (Option<&str>, Option<&str>, bool) {
    match state {
        EntityState::Room(_) => (None, None, true),
        EntityState::System(s) => (s.name.as_deref(), None, s.made.is_some()),
        EntityState::Tank(s) => (s.name.as_deref(), None, s.made.is_some()),
        EntityState::Stock(s) => (s.name.as_deref(), s.species.as_deref(), s.made.is_some()),
        EntityState::Brood(s) => (s.code.as_deref(), s.name.species.as_deref(), s.made.is_some()),
        EntityState::Parcel(_) => (None, None, true),
        EntityState::Treatment(s) => (None, None, s.made.is_some()),
        EntityState::Spawning(s) => (None, None, s.is_known()),
    }
}
