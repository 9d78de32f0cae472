//! Queries over invitations.

use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, IntoCondition};
use sea_orm::{
    ActiveModelTrait, ColumnTrait, Condition, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder,
};
use uuid::Uuid;

use crate::entities::invitations;
use crate::platform::{Result, dialect};

/// An invitation by the hash of its token.
pub async fn invitation(conn: &impl ConnectionTrait, hash: &[u8]) -> Result<Option<invitations::Model>> {
    Ok(invitations::Entity::find_by_id(hash.to_vec()).one(conn).await?)
}

/// The same, and nobody else may use it until the write ends.
pub async fn lock_invitation(conn: &impl ConnectionTrait, hash: &[u8]) -> Result<Option<invitations::Model>> {
    Ok(dialect::lock_rows(invitations::Entity::find_by_id(hash.to_vec()), conn).one(conn).await?)
}

/// Keeps a new invitation.
pub async fn insert_invitation(conn: &impl ConnectionTrait, row: invitations::ActiveModel) -> Result<()> {
    invitations::Entity::insert(row).exec_without_returning(conn).await?;
    Ok(())
}

/// Marks an invitation as used.
pub async fn use_invitation(conn: &impl ConnectionTrait, hash: &[u8], account: Uuid, now: i64) -> Result<()> {
    let row = invitations::ActiveModel {
        hash: Set(hash.to_vec()),
        used_ms: Set(Some(now)),
        used_by: Set(Some(account)),
        ..Default::default()
    };
    row.update(conn).await?;
    Ok(())
}

/// The invitations into a club that are still good, the newest first.
pub async fn invitations_of(
    conn: &impl ConnectionTrait,
    club: Uuid,
    now: i64,
) -> Result<Vec<invitations::Model>> {
    let query = invitations::Entity::find()
        .filter(invitations::Column::Club.eq(club))
        .filter(invitations::Column::UsedMs.is_null())
        .filter(invitations::Column::ExpiresMs.gt(now))
        .order_by_desc(invitations::Column::MadeMs);
    Ok(query.all(conn).await?)
}

/// An invitation into a club by what it is called in the list, and nobody else may use it until the write ends.
pub async fn lock_invitation_by_id(
    conn: &impl ConnectionTrait,
    club: Uuid,
    id: Uuid,
) -> Result<Option<invitations::Model>> {
    let query = invitations::Entity::find()
        .filter(invitations::Column::Club.eq(club))
        .filter(invitations::Column::Id.eq(id));
    Ok(dialect::lock_rows(query, conn).one(conn).await?)
}

/// An invitation is good no longer.
pub async fn end_invitation(conn: &impl ConnectionTrait, hash: &[u8], now: i64) -> Result<()> {
    let row =
        invitations::ActiveModel { hash: Set(hash.to_vec()), expires_ms: Set(now), ..Default::default() };
    row.update(conn).await?;
    Ok(())
}

/// Open invitations into a club that somebody made are over.
pub async fn end_invitations_by(
    conn: &impl ConnectionTrait,
    club: Uuid,
    account: Uuid,
    now: i64,
) -> Result<()> {
    end_open(conn, club, invitations::Column::InvitedBy.eq(account), now).await
}

/// Open invitations for a line of a club's list are over.
pub async fn end_invitations_for(
    conn: &impl ConnectionTrait,
    club: Uuid,
    person: Uuid,
    now: i64,
) -> Result<()> {
    end_open(conn, club, invitations::Column::Person.eq(person), now).await
}

async fn end_open(
    conn: &impl ConnectionTrait,
    club: Uuid,
    which: impl IntoCondition,
    now: i64,
) -> Result<()> {
    invitations::Entity::update_many()
        .col_expr(invitations::Column::ExpiresMs, Expr::value(now))
        .filter(invitations::Column::Club.eq(club))
        .filter(invitations::Column::ExpiresMs.gt(now))
        .filter(which)
        .exec(conn)
        .await?;
    Ok(())
}

/// The invitations that somebody made or used.
pub async fn invitations_with(conn: &impl ConnectionTrait, account: Uuid) -> Result<Vec<invitations::Model>> {
    let theirs = Condition::any()
        .add(invitations::Column::InvitedBy.eq(account))
        .add(invitations::Column::UsedBy.eq(account));
    let query = invitations::Entity::find().filter(theirs).order_by_asc(invitations::Column::MadeMs);
    Ok(query.all(conn).await?)
}

/// No invitation names this address any more; those that nobody used are over.
pub async fn forget_address(conn: &impl ConnectionTrait, address: &str, now: i64) -> Result<()> {
    let theirs = invitations::Column::Email.eq(address);
    invitations::Entity::update_many()
        .col_expr(invitations::Column::ExpiresMs, Expr::value(now))
        .filter(theirs.clone())
        .filter(invitations::Column::ExpiresMs.gt(now))
        .exec(conn)
        .await?;
    invitations::Entity::update_many()
        .col_expr(invitations::Column::Email, Expr::value(Option::<String>::None))
        .filter(theirs)
        .exec(conn)
        .await?;
    Ok(())
}
