//! Queries over how somebody wants to be told, and over calendars.

use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::OnConflict;
use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect, Select};
use uuid::Uuid;

use crate::entities::{account_telling, calendar_feeds};
use crate::platform::{Result, dialect};

/// How an account wants to be told; none if it never said.
pub async fn telling(conn: &impl ConnectionTrait, account: Uuid) -> Result<Option<account_telling::Model>> {
    Ok(account_telling::Entity::find_by_id(account).one(conn).await?)
}

/// The same, and nobody else may change it until the write ends.
pub async fn lock_telling(
    conn: &impl ConnectionTrait,
    account: Uuid,
) -> Result<Option<account_telling::Model>> {
    Ok(dialect::lock_rows(account_telling::Entity::find_by_id(account), conn).one(conn).await?)
}

/// Keeps how an account wants to be told.
pub async fn save_telling(conn: &impl ConnectionTrait, row: account_telling::Model) -> Result<()> {
    use account_telling::Column;
    let columns = [
        Column::Digest,
        Column::ProvenEmail,
        Column::ProofHash,
        Column::ProofExpiresMs,
        Column::ToldMs,
        Column::NextMs,
    ];
    let again = OnConflict::column(Column::Account).update_columns(columns).to_owned();
    let row = account_telling::ActiveModel {
        account: Set(row.account),
        digest: Set(row.digest),
        proven_email: Set(row.proven_email),
        proof_hash: Set(row.proof_hash),
        proof_expires_ms: Set(row.proof_expires_ms),
        told_ms: Set(row.told_ms),
        next_ms: Set(row.next_ms),
    };
    account_telling::Entity::insert(row).on_conflict(again).exec_without_returning(conn).await?;
    Ok(())
}

fn by_proof(hash: &[u8]) -> Select<account_telling::Entity> {
    account_telling::Entity::find().filter(account_telling::Column::ProofHash.eq(hash.to_vec()))
}

/// Whose address this token proves.
pub async fn telling_by_proof(
    conn: &impl ConnectionTrait,
    hash: &[u8],
) -> Result<Option<account_telling::Model>> {
    Ok(by_proof(hash).one(conn).await?)
}

/// The same, and nobody else may use it until the write ends.
pub async fn lock_telling_by_proof(
    conn: &impl ConnectionTrait,
    hash: &[u8],
) -> Result<Option<account_telling::Model>> {
    Ok(dialect::lock_rows(by_proof(hash), conn).one(conn).await?)
}

/// The zone of an account's first room, by whose morning it is told; UTC for who keeps none.
pub async fn zone_of(conn: &impl ConnectionTrait, account: Uuid) -> Result<String> {
    let rooms = super::rooms_of(conn, account).await?;
    Ok(rooms.into_iter().next().map_or_else(|| "UTC".to_owned(), |room| room.zone))
}

/// Accounts whose digest is to be made now.
pub async fn digests_due(conn: &impl ConnectionTrait, now_ms: i64) -> Result<Vec<Uuid>> {
    let query = account_telling::Entity::find()
        .filter(account_telling::Column::Digest.eq(true))
        .filter(account_telling::Column::ProvenEmail.is_not_null())
        .filter(account_telling::Column::NextMs.lte(now_ms))
        .order_by_asc(account_telling::Column::NextMs)
        .limit(500);
    Ok(query.all(conn).await?.into_iter().map(|row| row.account).collect())
}

/// An account's calendar, if it has one.
pub async fn calendar(conn: &impl ConnectionTrait, account: Uuid) -> Result<Option<calendar_feeds::Model>> {
    Ok(calendar_feeds::Entity::find_by_id(account).one(conn).await?)
}

/// The calendar that has this secret.
pub async fn calendar_by_hash(
    conn: &impl ConnectionTrait,
    hash: &[u8],
) -> Result<Option<calendar_feeds::Model>> {
    let query = calendar_feeds::Entity::find().filter(calendar_feeds::Column::Hash.eq(hash.to_vec()));
    Ok(query.one(conn).await?)
}

/// Keeps an account's calendar; the secret it had before is good no more.
pub async fn save_calendar(conn: &impl ConnectionTrait, account: Uuid, hash: &[u8], now: i64) -> Result<()> {
    use calendar_feeds::Column;
    let row =
        calendar_feeds::ActiveModel { account: Set(account), hash: Set(hash.to_vec()), made_ms: Set(now) };
    let again = OnConflict::column(Column::Account).update_columns([Column::Hash, Column::MadeMs]).to_owned();
    calendar_feeds::Entity::insert(row).on_conflict(again).exec_without_returning(conn).await?;
    Ok(())
}

/// Ends an account's calendar; false if it had none.
pub async fn end_calendar(conn: &impl ConnectionTrait, account: Uuid) -> Result<bool> {
    let done = calendar_feeds::Entity::delete_by_id(account).exec(conn).await?;
    Ok(done.rows_affected > 0)
}

/// Nothing is told to somebody any more, and their calendar ends.
pub async fn forget(conn: &impl ConnectionTrait, account: Uuid) -> Result<()> {
    account_telling::Entity::delete_by_id(account).exec(conn).await?;
    calendar_feeds::Entity::delete_many()
        .filter(calendar_feeds::Column::Account.eq(account))
        .exec(conn)
        .await?;
    Ok(())
}
