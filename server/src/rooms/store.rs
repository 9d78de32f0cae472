//! Every query over rooms and their keepers. The projections are the projector's.

pub mod links;

use std::collections::HashMap;

use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{OnConflict, SelectStatement};
use sea_orm::{
    ActiveModelTrait, ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect,
    QueryTrait,
};
use tarn_domain::accounts::LoginName;
use tarn_domain::streams::{AccountId, ClubId, DeviceId, StreamId};

use crate::entities::{accounts, devices, room_keepers, rooms};
use crate::platform::{Result, dialect};

/// A room.
pub async fn room(conn: &impl ConnectionTrait, id: StreamId) -> Result<Option<rooms::Model>> {
    Ok(rooms::Entity::find_by_id(id.0).one(conn).await?)
}

/// Locks a room's row until the transaction ends: its keepers change one at a time.
pub async fn lock(conn: &impl ConnectionTrait, id: StreamId) -> Result<()> {
    dialect::lock_rows(rooms::Entity::find_by_id(id.0), conn).one(conn).await?;
    Ok(())
}

/// Whether an account keeps a room now.
pub async fn is_keeper(conn: &impl ConnectionTrait, room: StreamId, account: AccountId) -> Result<bool> {
    let row = room_keepers::Entity::find_by_id((room.0, account.0)).one(conn).await?;
    Ok(row.is_some_and(|row| row.until_ms.is_none()))
}

/// The rooms an account keeps, by name.
pub async fn rooms_of(conn: &impl ConnectionTrait, account: AccountId) -> Result<Vec<rooms::Model>> {
    let rooms = rooms::Entity::find()
        .filter(rooms::Column::Stream.in_subquery(kept_by(account)))
        .order_by_asc(rooms::Column::Name);
    Ok(rooms.order_by_asc(rooms::Column::Stream).all(conn).await?)
}

/// The ids of the rooms an account keeps, for a query that asks for something of them in one.
pub fn kept_by(account: AccountId) -> SelectStatement {
    room_keepers::Entity::find()
        .select_only()
        .column(room_keepers::Column::Room)
        .filter(room_keepers::Column::Account.eq(account.0))
        .filter(room_keepers::Column::UntilMs.is_null())
        .into_query()
}

/// The rooms whose home club is this one.
pub async fn rooms_of_club(conn: &impl ConnectionTrait, club: ClubId) -> Result<Vec<rooms::Model>> {
    let rooms =
        rooms::Entity::find().filter(rooms::Column::HomeClub.eq(club.0)).order_by_asc(rooms::Column::Stream);
    Ok(rooms.all(conn).await?)
}

/// Everybody who keeps or ever kept a room, with until when.
pub async fn keepers(conn: &impl ConnectionTrait, room: StreamId) -> Result<Vec<(AccountId, Option<i64>)>> {
    let rows = room_keepers::Entity::find().filter(room_keepers::Column::Room.eq(room.0)).all(conn).await?;
    Ok(rows.into_iter().map(|row| (AccountId(row.account), row.until_ms)).collect())
}

/// Who keeps a room now.
pub async fn keepers_of(conn: &impl ConnectionTrait, room: StreamId) -> Result<Vec<AccountId>> {
    Ok(keepers(conn, room)
        .await?
        .into_iter()
        .filter(|(_, until)| until.is_none())
        .map(|(id, _)| id)
        .collect())
}

/// What others read of the keepers of a room.
pub async fn keeper_names(conn: &impl ConnectionTrait, room: StreamId) -> Result<Vec<String>> {
    let now = keepers(conn, room).await?.into_iter().filter(|(_, until)| until.is_none()).map(|(id, _)| id.0);
    let rows = accounts::Entity::find()
        .filter(accounts::Column::Id.is_in(now))
        .order_by_asc(accounts::Column::ShownName);
    Ok(rows.all(conn).await?.into_iter().map(|row| row.shown_name).collect())
}

/// Makes a room.
pub async fn insert(
    conn: &impl ConnectionTrait,
    id: StreamId,
    name: &str,
    zone: &str,
    now: i64,
) -> Result<()> {
    let row = rooms::ActiveModel {
        stream: Set(id.0),
        name: Set(name.to_owned()),
        zone: Set(zone.to_owned()),
        home_club: Set(None),
        made_ms: Set(now),
    };
    row.insert(conn).await?;
    Ok(())
}

/// Makes an account a keeper, again if it was one before.
pub async fn add_keeper(
    conn: &impl ConnectionTrait,
    room: StreamId,
    account: AccountId,
    now: i64,
) -> Result<()> {
    let row = room_keepers::ActiveModel {
        room: Set(room.0),
        account: Set(account.0),
        since_ms: Set(now),
        until_ms: Set(None),
    };
    let again = OnConflict::columns([room_keepers::Column::Room, room_keepers::Column::Account])
        .update_column(room_keepers::Column::UntilMs)
        .to_owned();
    room_keepers::Entity::insert(row).on_conflict(again).exec_without_returning(conn).await?;
    Ok(())
}

/// Ends somebody's keeping; the row stays, since they were a party.
pub async fn end_keeper(
    conn: &impl ConnectionTrait,
    room: StreamId,
    account: AccountId,
    now: i64,
) -> Result<()> {
    let row = room_keepers::ActiveModel {
        room: Set(room.0),
        account: Set(account.0),
        until_ms: Set(Some(now)),
        ..Default::default()
    };
    row.update(conn).await?;
    Ok(())
}

/// Sets a room's home club.
pub async fn set_home_club(conn: &impl ConnectionTrait, room: StreamId, club: Option<ClubId>) -> Result<()> {
    let row =
        rooms::ActiveModel { stream: Set(room.0), home_club: Set(club.map(|c| c.0)), ..Default::default() };
    row.update(conn).await?;
    Ok(())
}

/// An open account by its login name. What can't be one is nobody's, and is not asked for.
pub async fn account_of_login(conn: &impl ConnectionTrait, login: &str) -> Result<Option<accounts::Model>> {
    let Ok(login) = LoginName::parse(login) else { return Ok(None) };
    let found = accounts::Entity::find()
        .filter(accounts::Column::LoginName.eq(login.as_str()))
        .filter(accounts::Column::ClosedMs.is_null());
    Ok(found.one(conn).await?)
}

/// What others read of these accounts.
pub async fn people(
    conn: &impl ConnectionTrait,
    ids: impl IntoIterator<Item = AccountId>,
) -> Result<HashMap<AccountId, String>> {
    let rows = accounts::Entity::find().filter(accounts::Column::Id.is_in(ids.into_iter().map(|id| id.0)));
    Ok(rows.all(conn).await?.into_iter().map(|row| (AccountId(row.id), row.shown_name)).collect())
}

/// What the devices that write into a room are called.
pub async fn devices(conn: &impl ConnectionTrait, room: StreamId) -> Result<HashMap<DeviceId, String>> {
    let rows = devices::Entity::find().filter(devices::Column::Stream.eq(room.0)).all(conn).await?;
    Ok(rows.into_iter().map(|row| (DeviceId(row.device), row.name)).collect())
}
