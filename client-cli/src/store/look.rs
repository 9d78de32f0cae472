//! Reading states, and finding things by what people call them.

use std::collections::BTreeMap;

use rusqlite::{OptionalExtension, params};
use tarn_domain::state::EntityState;
use tarn_domain::streams::{Entity, EntityKind};
use uuid::Uuid;

use super::shelf::{kind_number, kind_of};
use super::{Store, StoreError, Stored, StreamRow};

/// A thing and what people find it by.
#[derive(Debug, Clone)]
pub struct Named {
    /// Which.
    pub entity: Entity,
    /// What people call it.
    pub name: Option<String>,
    /// A stock's or brood's species.
    pub what: Option<String>,
}

fn state_of(text: &str) -> Stored<EntityState> {
    serde_json::from_str(text).map_err(|e| StoreError::Corrupt(format!("a state: {e}")))
}

impl Store {
    /// All things of a kind that something live made, in order of id.
    ///
    /// # Errors
    /// The file.
    pub fn named(&self, stream: &StreamRow, kind: EntityKind) -> Stored<Vec<Named>> {
        let mut find = self.db.prepare_cached(
            "SELECT id, name, what FROM entities WHERE stream = ? AND kind = ? AND made AND state IS NOT NULL
             ORDER BY id",
        )?;
        let rows = find.query_map(params![stream.n, kind_number(kind)], |row| {
            let entity = Entity { kind, id: Uuid::from_bytes(row.get(0)?) };
            Ok(Named { entity, name: row.get(1)?, what: row.get(2)? })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The state of one thing.
    ///
    /// # Errors
    /// The file.
    pub fn state(&self, stream: &StreamRow, entity: Entity) -> Stored<Option<EntityState>> {
        let mut find =
            self.db.prepare_cached("SELECT state FROM entities WHERE stream = ? AND kind = ? AND id = ?")?;
        let key = params![stream.n, kind_number(entity.kind), entity.id.as_bytes()];
        let text: Option<Option<String>> = find.query_row(key, |row| row.get(0)).optional()?;
        text.flatten().as_deref().map(state_of).transpose()
    }

    /// The states of all things of some kinds (of every kind, if none is named).
    ///
    /// # Errors
    /// The file.
    pub fn states(&self, stream: &StreamRow, kinds: &[EntityKind]) -> Stored<BTreeMap<Entity, EntityState>> {
        let mut find = self
            .db
            .prepare_cached("SELECT kind, id, state FROM entities WHERE stream = ? AND state IS NOT NULL")?;
        let mut rows = find.query([stream.n])?;
        let mut states = BTreeMap::new();
        while let Some(row) = rows.next()? {
            let Some(kind) = kind_of(row.get(0)?).filter(|k| kinds.is_empty() || kinds.contains(k)) else {
                continue;
            };
            let entity = Entity { kind, id: Uuid::from_bytes(row.get(1)?) };
            states.insert(entity, state_of(row.get_ref(2)?.as_str().map_err(rusqlite::Error::from)?)?);
        }
        Ok(states)
    }

    /// Whether any stock ever came into a room from outside: without one there is no quarantine.
    ///
    /// # Errors
    /// The file.
    pub fn has_introduced(&self, stream: &StreamRow) -> Stored<bool> {
        let mut find = self
            .db
            .prepare_cached("SELECT EXISTS (SELECT 1 FROM entities WHERE stream = ? AND introduced)")?;
        Ok(find.query_row([stream.n], |row| row.get(0))?)
    }

    /// How many ops of a stream are here, and how many of them need a newer version to be understood.
    ///
    /// # Errors
    /// The file.
    pub fn op_counts(&self, stream: &StreamRow) -> Stored<(u64, u64)> {
        let find = "SELECT count(*), count(*) FILTER (WHERE NOT known) FROM ops WHERE stream = ?";
        Ok(self.db.query_row(find, [stream.n], |row| Ok((row.get(0)?, row.get(1)?)))?)
    }
}
