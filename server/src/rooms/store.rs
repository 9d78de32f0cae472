//! Every query over rooms and their keepers. The projections are the projector's.

pub mod links;
pub mod probes;

use std::collections::HashMap;

use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{OnConflict, SelectStatement};
use sea_orm::{
    ActiveModelTrait, ColumnTrait, ConnectionTrait, EntityTrait, IntoActiveModel, QueryFilter, QueryOrder,
    QuerySelect, QueryTrait,
};
use tarn_domain::accounts::LoginName;
use tarn_domain::streams::{AccountId, ClubId, DeviceId, StreamId};

use crate::entities::{accounts, devices, room_caretakers, room_keepers, rooms};
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

/// Who would act for a room's keepers, or does.
pub async fn caretaker(
    conn: &impl ConnectionTrait,
    room: StreamId,
) -> Result<Option<room_caretakers::Model>> {
    Ok(room_caretakers::Entity::find_by_id(room.0).one(conn).await?)
}

/// Names a caretaker in the place of the one before.
pub async fn save_caretaker(conn: &impl ConnectionTrait, row: room_caretakers::Model) -> Result<()> {
    use room_caretakers::Column;
    let again = OnConflict::column(Column::Room)
        .update_columns([Column::Account, Column::NamedBy, Column::NamedMs, Column::ActingMs])
        .to_owned();
    let row = row.into_active_model().reset_all();
    room_caretakers::Entity::insert(row).on_conflict(again).exec_without_returning(conn).await?;
    Ok(())
}

/// Names nobody.
pub async fn end_caretaker(conn: &impl ConnectionTrait, room: StreamId) -> Result<()> {
    room_caretakers::Entity::delete_by_id(room.0).exec(conn).await?;
    Ok(())
}

/// The rooms that an account is caretaker of, by name.
pub async fn caretaking(
    conn: &impl ConnectionTrait,
    account: AccountId,
) -> Result<Vec<(rooms::Model, room_caretakers::Model)>> {
    let rows = room_caretakers::Entity::find().filter(room_caretakers::Column::Account.eq(account.0));
    let rows: HashMap<_, _> = rows.all(conn).await?.into_iter().map(|row| (row.room, row)).collect();
    let rooms = rooms::Entity::find().filter(rooms::Column::Stream.is_in(rows.keys().copied()));
    let rooms = rooms.order_by_asc(rooms::Column::Name).order_by_asc(rooms::Column::Stream).all(conn).await?;
    Ok(rooms.into_iter().filter_map(|room| Some((room.clone(), rows.get(&room.stream)?.clone()))).collect())
}

/// Who leaves the server is nobody's caretaker any more.
pub async fn forget_caretaker(conn: &impl ConnectionTrait, account: AccountId) -> Result<()> {
    let theirs =
        room_caretakers::Entity::delete_many().filter(room_caretakers::Column::Account.eq(account.0));
    theirs.exec(conn).await?;
    Ok(())
}

/// Who keeps a room now, and since when; by shown name.
pub async fn keepers_with_logins(
    conn: &impl ConnectionTrait,
    room: StreamId,
) -> Result<Vec<(accounts::Model, i64)>> {
    let kept = room_keepers::Entity::find().filter(room_keepers::Column::Room.eq(room.0));
    let kept = kept.filter(room_keepers::Column::UntilMs.is_null()).all(conn).await?;
    let since: HashMap<_, _> = kept.into_iter().map(|row| (row.account, row.since_ms)).collect();
    let rows = accounts::Entity::find().filter(accounts::Column::Id.is_in(since.keys().copied()));
    let rows = rows.order_by_asc(accounts::Column::ShownName).all(conn).await?;
    Ok(rows.into_iter().map(|row| (row.clone(), since.get(&row.id).copied().unwrap_or(0))).collect())
}

/// Takes a room out, with who kept it.
pub async fn remove(conn: &impl ConnectionTrait, room: StreamId) -> Result<()> {
    room_keepers::Entity::delete_many().filter(room_keepers::Column::Room.eq(room.0)).exec(conn).await?;
    end_caretaker(conn, room).await?;
    links::forget(conn, room).await?;
    probes::forget(conn, room).await?;
    rooms::Entity::delete_by_id(room.0).exec(conn).await?;
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
