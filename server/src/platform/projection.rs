//! Keeps rows equal to what a state says: writes those that are new or differ, deletes those that are gone.
//! Must not know what the rows mean.

use std::collections::BTreeMap;

use sea_orm::{
    ColumnTrait, Condition, ConnectionTrait, EntityTrait, IdenStatic, Iterable, ModelTrait,
    PrimaryKeyToColumn, QueryFilter,
};

use super::errors::Result;
use super::rows;

/// The most keys in one delete.
const DELETE_AT_ONCE: usize = 200;

/// Brings the rows of some things from `old` to `new`; `key` is their primary key.
pub async fn save<E, K: Ord>(
    conn: &impl ConnectionTrait,
    old: &[E::Model],
    new: Vec<E::Model>,
    key: impl Fn(&E::Model) -> K,
) -> Result<()>
where
    E: EntityTrait,
    E::Model: PartialEq + ModelTrait<Entity = E>,
{
    let mut before: BTreeMap<K, &E::Model> = old.iter().map(|row| (key(row), row)).collect();
    let mut differing = Vec::new();
    for row in new {
        if before.remove(&key(&row)).is_none_or(|there| *there != row) {
            differing.push(row);
        }
    }
    let gone: Vec<&E::Model> = before.into_values().collect();
    for some in gone.chunks(DELETE_AT_ONCE) {
        let any = some.iter().fold(Condition::any(), |any, row| any.add(is_row::<E>(row)));
        E::delete_many().filter(any).exec(conn).await?;
    }
    // New ones and changed ones together: a statement more costs as much as several rows.
    rows::insert::<E>(conn, &differing, &others::<E>()).await
}

/// What differs between the rows that are stored and those that should be.
pub fn differences<M: PartialEq, K: Ord + std::fmt::Debug>(
    table: &str,
    stored: Vec<M>,
    wanted: Vec<M>,
    key: impl Fn(&M) -> K,
) -> Vec<String> {
    let mut stored: BTreeMap<K, M> = stored.into_iter().map(|row| (key(&row), row)).collect();
    let mut told = Vec::new();
    for row in wanted {
        match stored.remove(&key(&row)) {
            Some(there) if there == row => {}
            Some(_) => told.push(format!("{table} {:?} differs from its state", key(&row))),
            None => told.push(format!("{table} {:?} is missing", key(&row))),
        }
    }
    told.extend(stored.into_keys().map(|key| format!("{table} {key:?} has no state")));
    told
}

fn keys<E: EntityTrait>() -> Vec<E::Column> {
    E::PrimaryKey::iter().map(PrimaryKeyToColumn::into_column).collect()
}

fn others<E: EntityTrait>() -> Vec<E::Column> {
    let keys = keys::<E>();
    let is_key = |column: &E::Column| keys.iter().any(|key| key.as_str() == column.as_str());
    E::Column::iter().filter(|column| !is_key(column)).collect()
}

fn is_row<E: EntityTrait>(row: &E::Model) -> Condition
where
    E::Model: ModelTrait<Entity = E>,
{
    keys::<E>().into_iter().fold(Condition::all(), |all, column| all.add(column.eq(row.get(column))))
}
