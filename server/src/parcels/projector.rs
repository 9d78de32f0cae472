//! Which rows are kept of parcels.

use sea_orm::{ColumnTrait, DatabaseTransaction, EntityTrait, QueryFilter};
use tarn_domain::state::{EntityState, Memory};
use tarn_domain::streams::{Entity as Thing, StreamId};
use uuid::Uuid;

use crate::entities::parcels;
use crate::platform::Result;
use crate::platform::projection::{differences as differ, save};
use crate::streams::Projecting;

fn row(stream: StreamId, thing: Thing, state: &EntityState) -> Option<parcels::Model> {
    let EntityState::Parcel(parcel) = state else { return None };
    // of a parcel between rooms of another server nothing is open here, and no room of this one is a party
    if parcel.elsewhere {
        return None;
    }
    if parcel.packed.is_none() && parcel.arrived.is_none() {
        return None;
    }
    Some(parcels::Model {
        stream: stream.0,
        id: thing.id,
        to_account: parcel.to_account.map(|account| account.0),
        is_sent: parcel.sent.is_some(),
        is_arrived: parcel.arrived.is_some(),
        is_open: parcel.sent.is_some() && parcel.open_here() != 0,
        body: serde_json::to_string(parcel).unwrap_or_default(),
    })
}

fn key(row: &parcels::Model) -> Uuid {
    row.id
}

/// Writes the rows that changed.
pub async fn project(p: &Projecting<'_>) -> Result<()> {
    if p.anew {
        parcels::Entity::delete_many().filter(parcels::Column::Stream.eq(p.stream.0)).exec(p.tx).await?;
    }
    let old: Vec<_> =
        p.changed.iter().filter_map(|c| row(p.stream, c.entity, c.before.as_deref()?)).collect();
    let new = p.changed.iter().filter_map(|c| row(p.stream, c.entity, &c.after)).collect();
    save::<parcels::Entity, _>(p.tx, &old, new, key).await
}

/// What differs between the rows and the state.
pub async fn differences(
    conn: &DatabaseTransaction,
    stream: StreamId,
    memory: &Memory,
) -> Result<Vec<String>> {
    let stored = parcels::Entity::find().filter(parcels::Column::Stream.eq(stream.0)).all(conn).await?;
    let wanted = memory.states().into_iter().filter_map(|(thing, state)| row(stream, thing, state)).collect();
    Ok(differ("parcels", stored, wanted, key))
}
