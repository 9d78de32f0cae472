//! Which rows are kept of broods.

use sea_orm::{ColumnTrait, DatabaseTransaction, EntityTrait, QueryFilter};
use tarn_domain::state::{EntityState, Memory};
use tarn_domain::streams::{Entity as Thing, StreamId};
use uuid::Uuid;

use crate::entities::broods;
use crate::platform::Result;
use crate::platform::projection::{differences as differ, save};
use crate::streams::Projecting;

fn row(stream: StreamId, thing: Thing, state: &EntityState) -> Option<broods::Model> {
    let EntityState::Brood(brood) = state else { return None };
    brood.made?;
    Some(broods::Model {
        id: thing.id,
        home_stream: stream.0,
        code: brood.code.clone().unwrap_or_default(),
        species: brood.name.species.clone(),
        body: serde_json::to_string(brood).unwrap_or_default(),
    })
}

fn key(row: &broods::Model) -> Uuid {
    row.id
}

/// Writes the rows that changed.
pub async fn project(p: &Projecting<'_>) -> Result<()> {
    if p.anew {
        broods::Entity::delete_many().filter(broods::Column::HomeStream.eq(p.stream.0)).exec(p.tx).await?;
    }
    let old: Vec<_> =
        p.changed.iter().filter_map(|c| row(p.stream, c.entity, c.before.as_deref()?)).collect();
    let new = p.changed.iter().filter_map(|c| row(p.stream, c.entity, &c.after)).collect();
    save::<broods::Entity, _>(p.tx, &old, new, key).await
}

/// What differs between the rows and the state.
pub async fn differences(
    conn: &DatabaseTransaction,
    stream: StreamId,
    memory: &Memory,
) -> Result<Vec<String>> {
    let stored = broods::Entity::find().filter(broods::Column::HomeStream.eq(stream.0)).all(conn).await?;
    let wanted = memory.states().into_iter().filter_map(|(thing, state)| row(stream, thing, state)).collect();
    Ok(differ("broods", stored, wanted, key))
}
