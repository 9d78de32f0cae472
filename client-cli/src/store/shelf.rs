//! The domain's shelf over SQLite: an op is read when somebody asks for it and kept for the rest of the command.
//! Never loads a whole room.

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::sync::Arc;

use rusqlite::{Connection, OptionalExtension, Row, params};
use tarn_domain::catalogue::{Body, Op};
use tarn_domain::streams::{Acceptance, Entity, EntityKind, Linked, OpId, Shelf};
use uuid::Uuid;

use super::ops::{acceptance, op_of};
use super::{StoreError, Stored};

/// Which part an op has in a thing.
pub(super) const MAKES: i64 = 0;
pub(super) const CHANGES: i64 = 1;
pub(super) const NAMES: i64 = 2;
pub(super) const LOG: i64 = 3;

/// An op as the engine sees it.
#[derive(Debug, Clone)]
pub(super) struct Kept {
    pub n: i64,
    pub linked: Linked,
    pub body: Arc<Body>,
    pub accepted: Option<Acceptance>,
}

impl Kept {
    /// Out of the columns n, text, live, by_account, received, decision; none for an op nobody here understands.
    fn read(row: &Row<'_>) -> rusqlite::Result<Option<Self>> {
        let text = row.get_ref(1)?.as_str()?;
        let Some(op) = op_of(text) else { return Ok(None) };
        let decision: bool = row.get(5)?;
        let links = Arc::new(op.body.links());
        let linked = Linked { order: op.order(), links, decision, live: row.get(2)? };
        let accepted = acceptance(row.get(3)?, row.get(4)?, decision);
        Ok(Some(Self { n: row.get(0)?, linked, body: Arc::new(op.body), accepted }))
    }
}

const OP: &str = "o.n, o.text, o.live, o.by_account, o.received, o.decision";

/// One stream's shelf within one transaction.
#[derive(Debug)]
pub(super) struct SqlShelf<'t> {
    pub db: &'t Connection,
    pub stream: i64,
    ops: HashMap<OpId, Option<Kept>>,
    makers: HashMap<Entity, Vec<OpId>>,
    naming: HashMap<Entity, Vec<OpId>>,
    withdrawals: HashMap<OpId, Vec<OpId>>,
    entities: HashMap<Entity, i64>,
}

impl<'t> SqlShelf<'t> {
    pub fn new(db: &'t Connection, stream: i64) -> Self {
        Self {
            db,
            stream,
            ops: HashMap::new(),
            makers: HashMap::new(),
            naming: HashMap::new(),
            withdrawals: HashMap::new(),
            entities: HashMap::new(),
        }
    }

    /// An op that is here and not refused.
    pub fn kept(&mut self, id: OpId) -> Stored<Option<&Kept>> {
        if !self.ops.contains_key(&id) {
            let mut find = self.db.prepare_cached(&format!(
                "SELECT {OP} FROM ops o WHERE o.stream = ? AND o.id = ? AND o.state <> 4 AND o.known"
            ))?;
            let found = find.query_row(params![self.stream, id.0.as_bytes()], Kept::read).optional()?;
            self.ops.insert(id, found.flatten());
        }
        Ok(self.ops.get(&id).and_then(Option::as_ref))
    }

    /// An op has other words now; it is read again when somebody asks for it.
    pub fn forget(&mut self, id: OpId) {
        self.ops.remove(&id);
    }

    /// The number of a thing's row, if there is one.
    pub fn entity(&mut self, entity: Entity) -> Stored<Option<i64>> {
        if let Some(n) = self.entities.get(&entity) {
            return Ok(Some(*n));
        }
        let mut find =
            self.db.prepare_cached("SELECT n FROM entities WHERE stream = ? AND kind = ? AND id = ?")?;
        let key = params![self.stream, kind_number(entity.kind), entity.id.as_bytes()];
        let found: Option<i64> = find.query_row(key, |row| row.get(0)).optional()?;
        if let Some(n) = found {
            self.entities.insert(entity, n);
        }
        Ok(found)
    }

    fn entity_or_new(&mut self, entity: Entity) -> Stored<i64> {
        if let Some(n) = self.entity(entity)? {
            return Ok(n);
        }
        let mut add =
            self.db.prepare_cached("INSERT INTO entities VALUES (NULL, ?, ?, ?, NULL, NULL, 0, 0, NULL)")?;
        let n = add.insert(params![self.stream, kind_number(entity.kind), entity.id.as_bytes()])?;
        self.entities.insert(entity, n);
        Ok(n)
    }

    /// Puts an op that has a row onto the shelf.
    pub fn put(&mut self, n: i64, op: &Op) -> Stored {
        let links = op.body.links();
        let mut add = self.db.prepare_cached("INSERT OR IGNORE INTO touches VALUES (?, ?, ?, ?)")?;
        for entity in links.named() {
            let role = match entity {
                _ if links.log => LOG,
                e if links.makes.contains(&e) => MAKES,
                e if links.changes.contains(&e) => CHANGES,
                _ => NAMES,
            };
            let row = self.entity_or_new(entity)?;
            add.execute(params![row, role, op.at.seconds(), n])?;
            self.makers.remove(&entity);
            self.naming.remove(&entity);
        }
        if let Some(target) = links.withdraws {
            let mut add = self.db.prepare_cached("INSERT OR IGNORE INTO withdrawals VALUES (?, ?, ?)")?;
            add.execute(params![self.stream, target.0.as_bytes(), n])?;
            self.withdrawals.remove(&target);
        }
        self.ops.remove(&op.id);
        Ok(())
    }

    /// Takes an op off the shelf; its row stays.
    pub fn take(&mut self, id: OpId) -> Stored {
        let Some(kept) = self.kept(id)?.cloned() else { return Ok(()) };
        let at = kept.linked.order.at.seconds();
        let mut cut = self
            .db
            .prepare_cached("DELETE FROM touches WHERE entity = ? AND role = ? AND at = ? AND op = ?")?;
        for entity in kept.linked.links.named() {
            if let Some(row) = self.entity(entity)? {
                for role in [MAKES, CHANGES, NAMES, LOG] {
                    cut.execute(params![row, role, at, kept.n])?;
                }
            }
            self.makers.remove(&entity);
            self.naming.remove(&entity);
        }
        if let Some(target) = kept.linked.links.withdraws {
            let mut cut = self
                .db
                .prepare_cached("DELETE FROM withdrawals WHERE stream = ? AND target = ? AND op = ?")?;
            cut.execute(params![self.stream, target.0.as_bytes(), kept.n])?;
            self.withdrawals.remove(&target);
        }
        self.ops.insert(id, None);
        Ok(())
    }

    /// The ops that have one of these parts in a thing, read in one go.
    pub fn with_roles(&mut self, entity: Entity, most: i64) -> Stored<Vec<OpId>> {
        let Some(row) = self.entity(entity)? else { return Ok(Vec::new()) };
        let mut find = self.db.prepare_cached(&format!(
            "SELECT {OP}, o.id FROM touches t JOIN ops o ON o.n = t.op WHERE t.entity = ? AND t.role <= ?"
        ))?;
        let mut rows = find.query(params![row, most])?;
        let mut ids = Vec::new();
        while let Some(row) = rows.next()? {
            let id = OpId(Uuid::from_bytes(row.get(6)?));
            if let Entry::Vacant(place) = self.ops.entry(id) {
                place.insert(Kept::read(row)?);
            }
            ids.push(id);
        }
        Ok(ids)
    }
}

impl Shelf for SqlShelf<'_> {
    type Error = StoreError;

    fn linked(&mut self, op: OpId) -> Stored<Option<Linked>> {
        Ok(self.kept(op)?.map(|kept| kept.linked.clone()))
    }

    fn makers(&mut self, entity: Entity) -> Stored<Vec<OpId>> {
        if let Some(makers) = self.makers.get(&entity) {
            return Ok(makers.clone());
        }
        let makers = self.with_roles(entity, MAKES)?;
        self.makers.insert(entity, makers.clone());
        Ok(makers)
    }

    fn naming(&mut self, entity: Entity) -> Stored<Vec<OpId>> {
        if let Some(naming) = self.naming.get(&entity) {
            return Ok(naming.clone());
        }
        let naming = self.with_roles(entity, LOG)?;
        self.naming.insert(entity, naming.clone());
        Ok(naming)
    }

    fn withdrawals(&mut self, op: OpId) -> Stored<Vec<OpId>> {
        if let Some(ids) = self.withdrawals.get(&op) {
            return Ok(ids.clone());
        }
        let mut find = self.db.prepare_cached(
            "SELECT o.id FROM withdrawals w JOIN ops o ON o.n = w.op WHERE w.stream = ? AND w.target = ?",
        )?;
        let rows = find.query_map(params![self.stream, op.0.as_bytes()], |row| row.get::<_, [u8; 16]>(0))?;
        let ids: Vec<OpId> =
            rows.map(|id| id.map(|b| OpId(Uuid::from_bytes(b)))).collect::<Result<_, _>>()?;
        self.withdrawals.insert(op, ids.clone());
        Ok(ids)
    }

    fn set_live(&mut self, op: OpId, live: bool) -> Stored {
        let Some(n) = self.kept(op)?.map(|kept| kept.n) else { return Ok(()) };
        self.db.prepare_cached("UPDATE ops SET live = ? WHERE n = ?")?.execute(params![live, n])?;
        if let Some(Some(kept)) = self.ops.get_mut(&op) {
            kept.linked.live = live;
        }
        Ok(())
    }
}

/// The number of a kind in the file: its place in the order in which states are written.
pub(super) fn kind_number(kind: EntityKind) -> i64 {
    EntityKind::ALL.iter().position(|k| *k == kind).map_or(-1, |i| i64::try_from(i).unwrap_or(-1))
}

/// The kind of a number.
pub(super) fn kind_of(number: i64) -> Option<EntityKind> {
    EntityKind::ALL.get(usize::try_from(number).ok()?).copied()
}
