//! Queries over `devices`.

use std::collections::HashMap;

use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::OnConflict;
use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter};
use tarn_domain::streams::{AccountId, DeviceId, EpochId, StreamId};

use crate::entities::devices;
use crate::platform::Result;

/// Whose device it is, and for which epoch it was last registered.
pub async fn device(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    device: DeviceId,
) -> Result<Option<(AccountId, EpochId)>> {
    let row = devices::Entity::find_by_id((stream.0, device.0)).one(conn).await?;
    Ok(row.map(|row| (AccountId(row.account), EpochId(row.epoch))))
}

/// All devices of a stream, with their owners.
pub async fn devices_of(
    conn: &impl ConnectionTrait,
    stream: StreamId,
) -> Result<HashMap<DeviceId, AccountId>> {
    let rows = devices::Entity::find().filter(devices::Column::Stream.eq(stream.0)).all(conn).await?;
    Ok(rows.into_iter().map(|row| (DeviceId(row.device), AccountId(row.account))).collect())
}

/// Registers a device, or registers it again for this epoch.
pub async fn register(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    device: DeviceId,
    account: AccountId,
    name: &str,
    epoch: EpochId,
    now: i64,
) -> Result<()> {
    let row = devices::ActiveModel {
        stream: Set(stream.0),
        device: Set(device.0),
        account: Set(account.0),
        kind: Set("client".to_owned()),
        name: Set(name.to_owned()),
        epoch: Set(epoch.0),
        registered_ms: Set(now),
    };
    let again = OnConflict::columns([devices::Column::Stream, devices::Column::Device])
        .update_columns([devices::Column::Name, devices::Column::Epoch, devices::Column::RegisteredMs])
        .to_owned();
    devices::Entity::insert(row).on_conflict(again).exec_without_returning(conn).await?;
    Ok(())
}
