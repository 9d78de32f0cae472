//! Queries over `room_links`.

use std::collections::HashMap;

use sea_orm::sea_query::Expr;
use sea_orm::{
    ActiveModelTrait, ColumnTrait, ConnectionTrait, EntityTrait, IntoActiveModel, QueryFilter, QueryOrder,
};
use tarn_domain::streams::{AccountId, LinkId, StreamId};

use crate::entities::room_links;
use crate::platform::{Result, dialect};

/// The links to a room, the newest first, those that are over among them.
pub async fn all(conn: &impl ConnectionTrait, room: StreamId) -> Result<Vec<room_links::Model>> {
    let rows = room_links::Entity::find().filter(room_links::Column::Room.eq(room.0));
    let rows = rows.order_by_desc(room_links::Column::MadeMs).order_by_asc(room_links::Column::Id);
    Ok(rows.all(conn).await?)
}

/// One of them.
pub async fn one(
    conn: &impl ConnectionTrait,
    room: StreamId,
    link: LinkId,
) -> Result<Option<room_links::Model>> {
    let row = room_links::Entity::find_by_id(link.0).filter(room_links::Column::Room.eq(room.0));
    Ok(row.one(conn).await?)
}

/// The link that has this secret.
pub async fn by_hash(conn: &impl ConnectionTrait, hash: &[u8]) -> Result<Option<room_links::Model>> {
    let row = room_links::Entity::find().filter(room_links::Column::Hash.eq(hash.to_vec()));
    Ok(row.one(conn).await?)
}

/// A link, and nobody else changes it until the write ends.
pub async fn locked(conn: &impl ConnectionTrait, link: LinkId) -> Result<Option<room_links::Model>> {
    Ok(dialect::lock_rows(room_links::Entity::find_by_id(link.0), conn).one(conn).await?)
}

/// What whoever has these links is called.
pub async fn names(
    conn: &impl ConnectionTrait,
    room: StreamId,
    links: impl Iterator<Item = LinkId>,
) -> Result<HashMap<LinkId, String>> {
    let links: Vec<_> = links.map(|link| link.0).collect();
    if links.is_empty() {
        return Ok(HashMap::new());
    }
    let rows = room_links::Entity::find().filter(room_links::Column::Room.eq(room.0));
    let rows = rows.filter(room_links::Column::Id.is_in(links)).all(conn).await?;
    Ok(rows.into_iter().map(|row| (LinkId(row.id), row.name)).collect())
}

/// Keeps a new link.
pub async fn insert(conn: &impl ConnectionTrait, link: room_links::Model) -> Result<()> {
    room_links::Entity::insert(link.into_active_model()).exec_without_returning(conn).await?;
    Ok(())
}

/// Keeps a link as it is now.
pub async fn save(conn: &impl ConnectionTrait, link: room_links::Model) -> Result<()> {
    link.into_active_model().reset_all().update(conn).await?;
    Ok(())
}

/// Ends the links to a room that somebody made; how many were open.
pub async fn end_made_by(
    conn: &impl ConnectionTrait,
    room: StreamId,
    account: AccountId,
    now: i64,
) -> Result<u64> {
    let done = room_links::Entity::update_many()
        .col_expr(room_links::Column::EndedMs, Expr::value(now))
        .filter(room_links::Column::Room.eq(room.0))
        .filter(room_links::Column::MadeBy.eq(account.0))
        .filter(room_links::Column::EndedMs.is_null());
    Ok(done.exec(conn).await?.rows_affected)
}

/// The links that somebody made, the oldest first.
pub async fn made_by(conn: &impl ConnectionTrait, account: AccountId) -> Result<Vec<room_links::Model>> {
    let rows = room_links::Entity::find().filter(room_links::Column::MadeBy.eq(account.0));
    Ok(rows.order_by_asc(room_links::Column::MadeMs).all(conn).await?)
}

/// Takes the links to a room out with it.
pub async fn forget(conn: &impl ConnectionTrait, room: StreamId) -> Result<()> {
    room_links::Entity::delete_many().filter(room_links::Column::Room.eq(room.0)).exec(conn).await?;
    Ok(())
}
