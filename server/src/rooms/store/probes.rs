//! Queries over `room_probes` and `probe_hours`.

use std::collections::HashMap;

use sea_orm::sea_query::{Expr, OnConflict};
use sea_orm::{
    ActiveModelTrait, ColumnTrait, ConnectionTrait, EntityTrait, IntoActiveModel, QueryFilter, QueryOrder,
    QuerySelect,
};
use tarn_domain::streams::{AccountId, LinkId, StreamId};
use uuid::Uuid;

use crate::entities::{probe_hours, room_probes};
use crate::platform::{Result, dialect};

/// The probes of a room, the newest first, those that are over among them.
pub async fn all(conn: &impl ConnectionTrait, room: StreamId) -> Result<Vec<room_probes::Model>> {
    let rows = room_probes::Entity::find().filter(room_probes::Column::Room.eq(room.0));
    let rows = rows.order_by_desc(room_probes::Column::MadeMs).order_by_asc(room_probes::Column::Id);
    Ok(rows.all(conn).await?)
}

/// The probe that has this token.
pub async fn by_hash(conn: &impl ConnectionTrait, hash: &[u8]) -> Result<Option<room_probes::Model>> {
    let row = room_probes::Entity::find().filter(room_probes::Column::Hash.eq(hash.to_vec()));
    Ok(row.one(conn).await?)
}

/// A probe, and nobody else changes it until the write ends.
pub async fn locked(conn: &impl ConnectionTrait, probe: LinkId) -> Result<Option<room_probes::Model>> {
    Ok(dialect::lock_rows(room_probes::Entity::find_by_id(probe.0), conn).one(conn).await?)
}

/// What these probes are called.
pub async fn names(
    conn: &impl ConnectionTrait,
    room: StreamId,
    probes: impl Iterator<Item = LinkId>,
) -> Result<HashMap<LinkId, String>> {
    let probes: Vec<_> = probes.map(|probe| probe.0).collect();
    if probes.is_empty() {
        return Ok(HashMap::new());
    }
    let rows = room_probes::Entity::find().filter(room_probes::Column::Room.eq(room.0));
    let rows = rows.filter(room_probes::Column::Id.is_in(probes)).all(conn).await?;
    Ok(rows.into_iter().map(|row| (LinkId(row.id), row.name)).collect())
}

/// Keeps a new probe.
pub async fn insert(conn: &impl ConnectionTrait, probe: room_probes::Model) -> Result<()> {
    room_probes::Entity::insert(probe.into_active_model()).exec_without_returning(conn).await?;
    Ok(())
}

/// Keeps a probe as it is now.
pub async fn save(conn: &impl ConnectionTrait, probe: room_probes::Model) -> Result<()> {
    probe.into_active_model().reset_all().update(conn).await?;
    Ok(())
}

/// Ends the probes that somebody made in a room; how many were open.
pub async fn end_made_by(
    conn: &impl ConnectionTrait,
    room: StreamId,
    account: AccountId,
    now: i64,
) -> Result<u64> {
    let done = room_probes::Entity::update_many()
        .col_expr(room_probes::Column::EndedMs, Expr::value(now))
        .filter(room_probes::Column::Room.eq(room.0))
        .filter(room_probes::Column::MadeBy.eq(account.0))
        .filter(room_probes::Column::EndedMs.is_null());
    Ok(done.exec(conn).await?.rows_affected)
}

/// The probes that somebody made, the oldest first.
pub async fn made_by(conn: &impl ConnectionTrait, account: AccountId) -> Result<Vec<room_probes::Model>> {
    let rows = room_probes::Entity::find().filter(room_probes::Column::MadeBy.eq(account.0));
    Ok(rows.order_by_asc(room_probes::Column::MadeMs).all(conn).await?)
}

/// Takes the probes of a room out with it.
pub async fn forget(conn: &impl ConnectionTrait, room: StreamId) -> Result<()> {
    let own = room_probes::Entity::find().select_only().column(room_probes::Column::Id);
    let own: Vec<Uuid> = own.filter(room_probes::Column::Room.eq(room.0)).into_tuple().all(conn).await?;
    probe_hours::Entity::delete_many().filter(probe_hours::Column::Probe.is_in(own)).exec(conn).await?;
    room_probes::Entity::delete_many().filter(room_probes::Column::Room.eq(room.0)).exec(conn).await?;
    Ok(())
}

/// What a probe has said in the hours that are not written yet, and when it last said anything; by measure.
pub async fn hours(conn: &impl ConnectionTrait, probe: LinkId) -> Result<Vec<probe_hours::Model>> {
    let rows = probe_hours::Entity::find().filter(probe_hours::Column::Probe.eq(probe.0));
    Ok(rows.order_by_asc(probe_hours::Column::What).all(conn).await?)
}

/// Keeps one of them.
pub async fn save_hour(conn: &impl ConnectionTrait, hour: probe_hours::Model) -> Result<()> {
    use probe_hours::Column;
    let columns = [Column::LastMs, Column::Hour, Column::N, Column::Sum, Column::Least, Column::Most];
    let again = OnConflict::columns([Column::Probe, Column::What]).update_columns(columns).to_owned();
    probe_hours::Entity::insert(hour.into_active_model())
        .on_conflict(again)
        .exec_without_returning(conn)
        .await?;
    Ok(())
}

/// Probes with an hour before this one that is not written yet.
pub async fn with_hours_before(conn: &impl ConnectionTrait, hour: i64) -> Result<Vec<Uuid>> {
    let rows = probe_hours::Entity::find().select_only().column(probe_hours::Column::Probe).distinct();
    let rows = rows.filter(probe_hours::Column::N.gt(0)).filter(probe_hours::Column::Hour.lt(hour));
    Ok(rows.order_by_asc(probe_hours::Column::Probe).limit(1_000).into_tuple().all(conn).await?)
}
