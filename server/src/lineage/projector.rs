//! Which rows are kept of broods: those that were made in a room, and the copies that a room holds.

use sea_orm::{ColumnTrait, DatabaseTransaction, EntityTrait, QueryFilter};
use tarn_domain::lineage::{Ancestor, Kin};
use tarn_domain::state::{EntityState, Memory};
use tarn_domain::streams::{Entity as Thing, StreamId};
use uuid::Uuid;

use crate::entities::{brood_copies, broods};
use crate::platform::Result;
use crate::platform::projection::{differences as differ, save};
use crate::streams::Projecting;

fn row(stream: StreamId, thing: Thing, state: &EntityState, memory: &Memory) -> Option<broods::Model> {
    let EntityState::Brood(brood) = state else { return None };
    let made = brood.made?;
    let received =
        memory.entry(made).and_then(|entry| entry.accepted).map_or(0, |accepted| accepted.received.0);
    Some(broods::Model {
        id: thing.id,
        home_stream: stream.0,
        code: brood.code.clone().unwrap_or_default(),
        species: brood.name.species.clone(),
        received_ms: received,
        body: serde_json::to_string(brood).unwrap_or_default(),
    })
}

fn key(row: &broods::Model) -> Uuid {
    row.id
}

/// The broods of which a thing of a room holds a copy.
fn copies(stream: StreamId, thing: Thing, state: &EntityState) -> Vec<brood_copies::Model> {
    let all: Vec<&Ancestor> = match state {
        EntityState::Parcel(parcel) if parcel.arrived.is_some() => parcel.ancestry.iter().collect(),
        EntityState::Brood(brood) => brood.told.iter().collect(),
        _ => Vec::new(),
    };
    let broods = all.into_iter().filter(|copy| matches!(copy.is, Kin::Brood(_)));
    let mut rows: Vec<_> = broods
        .map(|copy| brood_copies::Model { stream: stream.0, source: thing.id, node: copy.node.0 })
        .collect();
    rows.sort_by_key(copy_key);
    rows.dedup();
    rows
}

fn copy_key(row: &brood_copies::Model) -> (Uuid, Uuid) {
    (row.source, row.node)
}

/// Writes the rows that changed.
pub async fn project(p: &Projecting<'_>) -> Result<()> {
    if p.anew {
        broods::Entity::delete_many().filter(broods::Column::HomeStream.eq(p.stream.0)).exec(p.tx).await?;
        let copies = brood_copies::Entity::delete_many().filter(brood_copies::Column::Stream.eq(p.stream.0));
        copies.exec(p.tx).await?;
    }
    let before = || p.changed.iter().filter_map(|c| Some((c.entity, c.before.as_deref()?)));
    let old: Vec<_> = before().filter_map(|(thing, state)| row(p.stream, thing, state, p.memory)).collect();
    let new = p.changed.iter().filter_map(|c| row(p.stream, c.entity, &c.after, p.memory)).collect();
    save::<broods::Entity, _>(p.tx, &old, new, key).await?;
    let old: Vec<_> = before().flat_map(|(thing, state)| copies(p.stream, thing, state)).collect();
    let new: Vec<_> = p.changed.iter().flat_map(|c| copies(p.stream, c.entity, &c.after)).collect();
    save::<brood_copies::Entity, _>(p.tx, &old, new, copy_key).await
}

/// What differs between the rows and the state.
pub async fn differences(
    conn: &DatabaseTransaction,
    stream: StreamId,
    memory: &Memory,
) -> Result<Vec<String>> {
    let stored = broods::Entity::find().filter(broods::Column::HomeStream.eq(stream.0)).all(conn).await?;
    let states = memory.states();
    let wanted = states.iter().filter_map(|(thing, state)| row(stream, *thing, state, memory)).collect();
    let mut told = differ("broods", stored, wanted, key);
    let stored =
        brood_copies::Entity::find().filter(brood_copies::Column::Stream.eq(stream.0)).all(conn).await?;
    let wanted = states.iter().flat_map(|(thing, state)| copies(stream, *thing, state)).collect();
    told.extend(differ("brood_copies", stored, wanted, copy_key));
    Ok(told)
}
