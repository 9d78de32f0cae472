//! Queries over `devices`.

use std::collections::HashMap;

use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::OnConflict;
use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder};
use tarn_domain::streams::{AccountId, DeviceId, EpochId, StreamId};
use uuid::Uuid;

use crate::entities::devices;
use crate::platform::Result;

const IMPORTED: &str = "imported";

/// Who writes with a device, and how it stands.
#[derive(Clone, Copy, Debug)]
pub struct Device {
    /// Whose it is.
    pub account: AccountId,
    /// For which epoch it was last registered.
    pub epoch: EpochId,
    /// In which session it last came.
    pub session: Option<Uuid>,
    /// When its owner ended it, in milliseconds.
    pub ended_ms: Option<i64>,
    /// Whether it only stands for what came along from another server; such a one takes nothing new.
    pub imported: bool,
}

/// A device of a stream.
pub async fn device(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    device: DeviceId,
) -> Result<Option<Device>> {
    let row = devices::Entity::find_by_id((stream.0, device.0)).one(conn).await?;
    Ok(row.map(|row| of_row(&row)))
}

fn of_row(row: &devices::Model) -> Device {
    let (account, epoch) = (AccountId(row.account), EpochId(row.epoch));
    Device { account, epoch, session: row.session, ended_ms: row.ended_ms, imported: row.kind == IMPORTED }
}

/// All devices of a stream.
pub async fn devices_of(conn: &impl ConnectionTrait, stream: StreamId) -> Result<HashMap<DeviceId, Device>> {
    let rows = devices::Entity::find().filter(devices::Column::Stream.eq(stream.0)).all(conn).await?;
    Ok(rows.iter().map(|row| (DeviceId(row.device), of_row(row))).collect())
}

/// Whose each device is that may write here: those that only stand for another server's take nothing new.
pub fn that_write(devices: HashMap<DeviceId, Device>) -> HashMap<DeviceId, AccountId> {
    let here = devices.into_iter().filter(|(_, device)| !device.imported);
    here.map(|(id, device)| (id, device.account)).collect()
}

/// The clients with which an account writes, the oldest first; those that were ended are left out.
pub async fn clients_of(conn: &impl ConnectionTrait, account: AccountId) -> Result<Vec<devices::Model>> {
    let query = devices::Entity::find()
        .filter(devices::Column::Account.eq(account.0))
        .filter(devices::Column::Kind.eq("client"))
        .filter(devices::Column::EndedMs.is_null())
        .order_by_asc(devices::Column::RegisteredMs);
    Ok(query.all(conn).await?)
}

/// Ends a device.
pub async fn end_device(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    device: DeviceId,
    now: i64,
) -> Result<()> {
    let row = devices::ActiveModel {
        stream: Set(stream.0),
        device: Set(device.0),
        ended_ms: Set(Some(now)),
        ..Default::default()
    };
    devices::Entity::update(row).exec(conn).await?;
    Ok(())
}

/// Registers devices under which an account's room was written on another server; those that are there stay as they are.
pub async fn register_imported(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    new: impl IntoIterator<Item = DeviceId>,
    account: AccountId,
    epoch: EpochId,
    now: i64,
) -> Result<()> {
    let rows: Vec<devices::ActiveModel> = new
        .into_iter()
        .map(|device| devices::ActiveModel {
            stream: Set(stream.0),
            device: Set(device.0),
            account: Set(account.0),
            kind: Set(IMPORTED.to_owned()),
            name: Set("from another server".to_owned()),
            epoch: Set(epoch.0),
            registered_ms: Set(now),
            session: Set(None),
            ended_ms: Set(None),
        })
        .collect();
    if rows.is_empty() {
        return Ok(());
    }
    let there =
        OnConflict::columns([devices::Column::Stream, devices::Column::Device]).do_nothing().to_owned();
    devices::Entity::insert_many(rows).on_conflict(there).exec_without_returning(conn).await?;
    Ok(())
}

/// Registers a device, or registers it again: for another epoch, or in another session.
pub async fn register(
    conn: &impl ConnectionTrait,
    (stream, device): (StreamId, DeviceId),
    (account, session): (AccountId, Uuid),
    name: &str,
    epoch: EpochId,
    now: i64,
) -> Result<()> {
    use devices::Column;
    let row = devices::ActiveModel {
        stream: Set(stream.0),
        device: Set(device.0),
        account: Set(account.0),
        kind: Set("client".to_owned()),
        name: Set(name.to_owned()),
        epoch: Set(epoch.0),
        registered_ms: Set(now),
        session: Set(Some(session)),
        ended_ms: Set(None),
    };
    let again = OnConflict::columns([Column::Stream, Column::Device])
        .update_columns([Column::Name, Column::Epoch, Column::RegisteredMs, Column::Session, Column::EndedMs])
        .to_owned();
    devices::Entity::insert(row).on_conflict(again).exec_without_returning(conn).await?;
    Ok(())
}
