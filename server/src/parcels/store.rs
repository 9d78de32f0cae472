//! Every query over parcels.

use sea_orm::{ColumnTrait, Condition, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder};
use tarn_domain::parcels::ParcelState;
use tarn_domain::streams::{AccountId, ParcelId, StreamId};

use crate::entities::parcels;
use crate::platform::{Result, errors::Problem};

/// One side of a parcel.
pub struct Side {
    /// Whose.
    pub stream: StreamId,
    /// What it tells.
    pub state: ParcelState,
}

/// Both sides of a parcel, as far as they are told; by room.
pub async fn sides(conn: &impl ConnectionTrait, id: ParcelId) -> Result<Vec<Side>> {
    let rows = parcels::Entity::find()
        .filter(parcels::Column::Id.eq(id.0))
        .order_by_asc(parcels::Column::Stream)
        .all(conn)
        .await?;
    rows.into_iter()
        .map(|row| {
            let state =
                serde_json::from_str(&row.body).map_err(|e| Problem::failed("reading a parcel", e))?;
            Ok(Side { stream: StreamId(row.stream), state })
        })
        .collect()
}

/// The parcels sent to an account or told of by these rooms, newest id first.
pub async fn ids_for(
    conn: &impl ConnectionTrait,
    account: AccountId,
    rooms: &[StreamId],
) -> Result<Vec<ParcelId>> {
    let rooms = rooms.iter().map(|room| room.0);
    let any = Condition::any()
        .add(parcels::Column::ToAccount.eq(account.0))
        .add(parcels::Column::Stream.is_in(rooms));
    let rows = parcels::Entity::find().filter(any).order_by_desc(parcels::Column::Id).all(conn).await?;
    let mut ids: Vec<ParcelId> = rows.into_iter().map(|row| ParcelId(row.id)).collect();
    ids.dedup();
    Ok(ids)
}
