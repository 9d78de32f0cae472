//! Every query over line groups.

use sea_orm::sea_query::Expr;
use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder};
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use crate::entities::{line_group_members as members, line_groups as groups};
use crate::platform::{Result, dialect, rows};

/// A group.
pub async fn group(conn: &impl ConnectionTrait, id: Uuid) -> Result<Option<groups::Model>> {
    Ok(groups::Entity::find_by_id(id).one(conn).await?)
}

/// The same, and nobody else may change it or its members until the write ends.
pub async fn lock(conn: &impl ConnectionTrait, id: Uuid) -> Result<Option<groups::Model>> {
    Ok(dialect::lock_rows(groups::Entity::find_by_id(id), conn).one(conn).await?)
}

/// Begins a group.
pub async fn insert(conn: &impl ConnectionTrait, row: groups::Model) -> Result<()> {
    rows::insert::<groups::Entity>(conn, &[row], &[groups::Column::MadeMs]).await
}

/// Ends it, and with it all invitations.
pub async fn end(conn: &impl ConnectionTrait, id: Uuid) -> Result<()> {
    members::Entity::delete_many().filter(members::Column::LineGroup.eq(id)).exec(conn).await?;
    groups::Entity::delete_by_id(id).exec(conn).await?;
    Ok(())
}

/// Everybody who is in it or was asked, those who joined first before others.
pub async fn members_of(conn: &impl ConnectionTrait, id: Uuid) -> Result<Vec<members::Model>> {
    let all = members::Entity::find().filter(members::Column::LineGroup.eq(id));
    let all = all.order_by_asc(members::Column::InvitedMs).order_by_asc(members::Column::Account);
    Ok(all.all(conn).await?)
}

/// One of them.
pub async fn member(
    conn: &impl ConnectionTrait,
    id: Uuid,
    account: AccountId,
) -> Result<Option<members::Model>> {
    Ok(members::Entity::find_by_id((id, account.0)).one(conn).await?)
}

/// Keeps a member or an invitation.
pub async fn save_member(conn: &impl ConnectionTrait, row: members::Model) -> Result<()> {
    rows::insert::<members::Entity>(conn, &[row], &[members::Column::JoinedMs]).await
}

/// Takes somebody out.
pub async fn remove_member(conn: &impl ConnectionTrait, id: Uuid, account: AccountId) -> Result<()> {
    members::Entity::delete_by_id((id, account.0)).exec(conn).await?;
    Ok(())
}

/// The groups that somebody is in or was asked into, by species and line.
pub async fn groups_of(
    conn: &impl ConnectionTrait,
    account: AccountId,
) -> Result<Vec<(groups::Model, members::Model)>> {
    let mine = members::Entity::find().filter(members::Column::Account.eq(account.0)).all(conn).await?;
    let known = groups::Entity::find().filter(groups::Column::Id.is_in(mine.iter().map(|m| m.line_group)));
    let known = known
        .order_by_asc(groups::Column::Species)
        .order_by_asc(groups::Column::Line)
        .order_by_asc(groups::Column::Id)
        .all(conn)
        .await?;
    let of = |group: &groups::Model| mine.iter().find(|m| m.line_group == group.id).cloned();
    Ok(known.into_iter().filter_map(|group| Some((group.clone(), of(&group)?))).collect())
}

/// How many are in groups, or asked, whom an account has asked since then.
pub async fn invited_since(conn: &impl ConnectionTrait, account: AccountId, since_ms: i64) -> Result<u64> {
    let theirs = members::Entity::find().filter(members::Column::InvitedBy.eq(account.0));
    Ok(theirs.filter(members::Column::InvitedMs.gt(since_ms)).count(conn).await?)
}

/// Takes somebody out of every group, and out of what they were asked into.
pub async fn forget(conn: &impl ConnectionTrait, account: AccountId) -> Result<()> {
    members::Entity::delete_many().filter(members::Column::Account.eq(account.0)).exec(conn).await?;
    let theirs = members::Entity::update_many().filter(members::Column::InvitedBy.eq(account.0));
    theirs.col_expr(members::Column::InvitedBy, Expr::value(Option::<Uuid>::None)).exec(conn).await?;
    Ok(())
}
