//! Queries over second factors, recovery codes, and sign-ins that wait for a code.

use sea_orm::ActiveValue::{NotSet, Set};
use sea_orm::sea_query::{Expr, OnConflict, SelectStatement};
use sea_orm::{
    ColumnTrait, ConnectionTrait, EntityTrait, PaginatorTrait, QueryFilter, QuerySelect, QueryTrait,
};
use uuid::Uuid;

use crate::entities::{pending_sign_ins, recovery_codes, second_factors};
use crate::platform::{Result, dialect};

/// What an account has, or is about to have, beside its password.
pub async fn factor(conn: &impl ConnectionTrait, account: Uuid) -> Result<Option<second_factors::Model>> {
    Ok(second_factors::Entity::find_by_id(account).one(conn).await?)
}

/// The same, and nobody else may use it until the write ends.
pub async fn lock_factor(
    conn: &impl ConnectionTrait,
    account: Uuid,
) -> Result<Option<second_factors::Model>> {
    Ok(dialect::lock_rows(second_factors::Entity::find_by_id(account), conn).one(conn).await?)
}

/// Whether an account signs in with a second factor.
pub async fn has_factor(conn: &impl ConnectionTrait, account: Uuid) -> Result<bool> {
    Ok(factor(conn, account).await?.is_some_and(|row| row.confirmed_ms.is_some()))
}

/// The accounts that sign in with a second factor, for other queries.
pub fn with_factor() -> SelectStatement {
    second_factors::Entity::find()
        .select_only()
        .column(second_factors::Column::Account)
        .filter(second_factors::Column::ConfirmedMs.is_not_null())
        .into_query()
}

/// Keeps it.
pub async fn save_factor(conn: &impl ConnectionTrait, row: second_factors::Model) -> Result<()> {
    use second_factors::Column;
    let columns = [Column::Secret, Column::MadeMs, Column::ConfirmedMs, Column::LastStep];
    let again = OnConflict::column(Column::Account).update_columns(columns).to_owned();
    let row = second_factors::ActiveModel {
        account: Set(row.account),
        secret: Set(row.secret),
        made_ms: Set(row.made_ms),
        confirmed_ms: Set(row.confirmed_ms),
        last_step: Set(row.last_step),
    };
    second_factors::Entity::insert(row).on_conflict(again).exec_without_returning(conn).await?;
    Ok(())
}

/// Takes it away, with its recovery codes; false if there was none that counts.
pub async fn end_factor(conn: &impl ConnectionTrait, account: Uuid) -> Result<bool> {
    let had = has_factor(conn, account).await?;
    end_codes(conn, account).await?;
    second_factors::Entity::delete_by_id(account).exec(conn).await?;
    end_pending(conn, account).await?;
    Ok(had)
}

async fn end_codes(conn: &impl ConnectionTrait, account: Uuid) -> Result<()> {
    let all = recovery_codes::Entity::delete_many().filter(recovery_codes::Column::Account.eq(account));
    all.exec(conn).await?;
    Ok(())
}

/// Keeps a new set of recovery codes; those of before are good no more.
pub async fn save_codes(
    conn: &impl ConnectionTrait,
    account: Uuid,
    hashes: Vec<Vec<u8>>,
    now: i64,
) -> Result<()> {
    end_codes(conn, account).await?;
    let rows = hashes.into_iter().map(|hash| recovery_codes::ActiveModel {
        account: Set(account),
        hash: Set(hash),
        made_ms: Set(now),
        used_ms: NotSet,
    });
    recovery_codes::Entity::insert_many(rows).exec_without_returning(conn).await?;
    Ok(())
}

/// Uses a recovery code; false if there is none like it that is unused.
pub async fn use_code(conn: &impl ConnectionTrait, account: Uuid, hash: &[u8], now: i64) -> Result<bool> {
    use recovery_codes::Column;
    let used = recovery_codes::Entity::update_many()
        .col_expr(Column::UsedMs, Expr::value(now))
        .filter(Column::Account.eq(account))
        .filter(Column::Hash.eq(hash.to_vec()))
        .filter(Column::UsedMs.is_null())
        .exec(conn)
        .await?;
    Ok(used.rows_affected > 0)
}

/// How many recovery codes are unused.
pub async fn codes_left(conn: &impl ConnectionTrait, account: Uuid) -> Result<u64> {
    let query = recovery_codes::Entity::find()
        .filter(recovery_codes::Column::Account.eq(account))
        .filter(recovery_codes::Column::UsedMs.is_null());
    Ok(query.count(conn).await?)
}

/// Keeps a sign-in that waits for a code; those that are too old go.
pub async fn insert_pending(
    conn: &impl ConnectionTrait,
    row: pending_sign_ins::ActiveModel,
    now: i64,
) -> Result<()> {
    let old = pending_sign_ins::Entity::delete_many().filter(pending_sign_ins::Column::ExpiresMs.lte(now));
    old.exec(conn).await?;
    pending_sign_ins::Entity::insert(row).exec_without_returning(conn).await?;
    Ok(())
}

/// A sign-in that waits for a code.
pub async fn pending(conn: &impl ConnectionTrait, hash: &[u8]) -> Result<Option<pending_sign_ins::Model>> {
    Ok(pending_sign_ins::Entity::find_by_id(hash.to_vec()).one(conn).await?)
}

/// Uses it; false if somebody else did.
pub async fn take_pending(conn: &impl ConnectionTrait, hash: &[u8]) -> Result<bool> {
    let taken = pending_sign_ins::Entity::delete_by_id(hash.to_vec()).exec(conn).await?;
    Ok(taken.rows_affected > 0)
}

/// Ends those of an account: they were begun with a password or a factor of before.
pub async fn end_pending(conn: &impl ConnectionTrait, account: Uuid) -> Result<()> {
    let all = pending_sign_ins::Entity::delete_many().filter(pending_sign_ins::Column::Account.eq(account));
    all.exec(conn).await?;
    Ok(())
}
