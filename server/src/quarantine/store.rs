//! What quarantine reads of clubs and their roles, and up to where it has looked at rooms.

use std::collections::BTreeSet;

use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::OnConflict;
use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, Statement};
use tarn_domain::quarantine::Rule;
use tarn_domain::streams::{AccountId, At, ClubId, ParcelId, StreamId};

use crate::clubs::store::that_count;
use crate::entities::{club_members, club_roles, club_rules, clubs, parcels, quarantine_watch};
use crate::platform::{Result, errors::Problem};

const STEWARD: &str = "health_steward";

/// The clubs of which an account is a health steward, and the role counts.
pub async fn steward_of(conn: &impl ConnectionTrait, account: AccountId) -> Result<Vec<ClubId>> {
    let rows = club_roles::Entity::find()
        .filter(club_roles::Column::Account.eq(account.0))
        .filter(club_roles::Column::Role.eq(STEWARD))
        .filter(that_count())
        .all(conn)
        .await?;
    Ok(rows.into_iter().map(|row| ClubId(row.club)).collect())
}

/// The health stewards of a club whose role counts.
pub async fn stewards_in(conn: &impl ConnectionTrait, club: ClubId) -> Result<Vec<AccountId>> {
    let rows = club_roles::Entity::find()
        .filter(club_roles::Column::Club.eq(club.0))
        .filter(club_roles::Column::Role.eq(STEWARD))
        .filter(that_count())
        .all(conn)
        .await?;
    Ok(rows.into_iter().map(|row| AccountId(row.account)).collect())
}

/// The clubs that have no health steward whose role counts.
pub async fn clubs_without_steward(conn: &impl ConnectionTrait) -> Result<Vec<ClubId>> {
    let stewards =
        club_roles::Entity::find().filter(club_roles::Column::Role.eq(STEWARD)).filter(that_count());
    let stewards = stewards.all(conn).await?;
    let with: BTreeSet<uuid::Uuid> = stewards.into_iter().map(|row| row.club).collect();
    let all = clubs::Entity::find().all(conn).await?;
    Ok(all.into_iter().filter(|row| !with.contains(&row.id)).map(|row| ClubId(row.id)).collect())
}

/// Whether an account is a member of a club.
pub async fn is_member(conn: &impl ConnectionTrait, club: ClubId, account: AccountId) -> Result<bool> {
    Ok(club_members::Entity::find_by_id((club.0, account.0)).one(conn).await?.is_some())
}

/// A club's name.
pub async fn club_name(conn: &impl ConnectionTrait, club: ClubId) -> Result<Option<String>> {
    Ok(clubs::Entity::find_by_id(club.0).one(conn).await?.map(|row| row.name))
}

/// A version of a club's rule, as it was adopted.
pub struct AdoptedRule {
    /// Which version.
    pub version: u32,
    /// In force from then.
    pub from: At,
    /// The rule.
    pub rule: Rule,
}

/// All versions of a club's rule, oldest first.
pub async fn rules(conn: &impl ConnectionTrait, club: ClubId) -> Result<Vec<AdoptedRule>> {
    let rows = club_rules::Entity::find()
        .filter(club_rules::Column::Club.eq(club.0))
        .order_by_asc(club_rules::Column::Version)
        .all(conn)
        .await?;
    rows.into_iter()
        .map(|row| {
            let rule = serde_json::from_str::<Rule>(&row.rule)
                .map_err(|e| Problem::failed("reading a stored rule", e))?;
            let from = At::from_seconds(row.from_ms.div_euclid(1000));
            Ok(AdoptedRule { version: row.version.unsigned_abs(), from, rule })
        })
        .collect()
}

/// The rooms that sent a parcel.
pub async fn givers(conn: &impl ConnectionTrait, parcel: ParcelId) -> Result<Vec<StreamId>> {
    let rows = parcels::Entity::find()
        .filter(parcels::Column::Id.eq(parcel.0))
        .filter(parcels::Column::IsArrived.eq(false));
    Ok(rows.all(conn).await?.into_iter().map(|row| StreamId(row.stream)).collect())
}

/// Rooms that were never looked at, whose stream has moved since, or in which time alone brings something.
const TO_LOOK_AT: &str = "SELECT r.stream FROM rooms r JOIN streams s ON s.id = r.stream \
    LEFT JOIN quarantine_watch q ON q.room = r.stream \
    WHERE q.room IS NULL OR q.head <> s.head OR q.look_ms <= $1 ORDER BY r.stream LIMIT 500";

/// The rooms that must be looked at.
pub async fn rooms_to_look_at(conn: &impl ConnectionTrait, now_ms: i64) -> Result<Vec<StreamId>> {
    let query = Statement::from_sql_and_values(conn.get_database_backend(), TO_LOOK_AT, [now_ms.into()]);
    let rows = conn.query_all_raw(query).await?;
    let ids: Result<Vec<_>, _> = rows.iter().map(|row| row.try_get_by_index(0).map(StreamId)).collect();
    Ok(ids?)
}

/// A room was looked at.
pub async fn looked_at(conn: &impl ConnectionTrait, room: StreamId, head: u64, next_ms: i64) -> Result<()> {
    let row = quarantine_watch::ActiveModel {
        room: Set(room.0),
        head: Set(i64::try_from(head).unwrap_or(i64::MAX)),
        look_ms: Set(next_ms),
    };
    let again = OnConflict::column(quarantine_watch::Column::Room)
        .update_columns([quarantine_watch::Column::Head, quarantine_watch::Column::LookMs])
        .to_owned();
    quarantine_watch::Entity::insert(row).on_conflict(again).exec_without_returning(conn).await?;
    Ok(())
}

/// A room is no longer looked at.
pub async fn forget(conn: &impl ConnectionTrait, room: StreamId) -> Result<()> {
    quarantine_watch::Entity::delete_by_id(room.0).exec(conn).await?;
    Ok(())
}
