//! Queries over who is young and who answers for them.

use sea_orm::ActiveValue::Set;
use sea_orm::{
    ActiveModelTrait, ColumnTrait, ConnectionTrait, EntityTrait, IntoActiveModel, PaginatorTrait,
    QueryFilter, QueryOrder,
};
use uuid::Uuid;

use crate::entities::accounts;
use crate::entities::young_accounts::{Column, Entity, Model};
use crate::platform::Result;

/// Who answers for an account, if it is a young one's.
pub async fn young(conn: &impl ConnectionTrait, account: Uuid) -> Result<Option<Model>> {
    Ok(Entity::find_by_id(account).one(conn).await?)
}

/// Those for whom somebody answers, by name.
pub async fn young_of(conn: &impl ConnectionTrait, guardian: Uuid) -> Result<Vec<Model>> {
    let query = Entity::find().filter(Column::Guardian.eq(guardian));
    Ok(query.order_by_asc(Column::Name).order_by_asc(Column::Account).all(conn).await?)
}

/// For how many somebody answers.
pub async fn count_young_of(conn: &impl ConnectionTrait, guardian: Uuid) -> Result<u64> {
    Ok(Entity::find().filter(Column::Guardian.eq(guardian)).count(conn).await?)
}

/// Keeps who is young.
pub async fn insert_young(conn: &impl ConnectionTrait, row: Model) -> Result<()> {
    Entity::insert(row.into_active_model().reset_all()).exec_without_returning(conn).await?;
    Ok(())
}

/// Somebody is young no more.
pub async fn end_young(conn: &impl ConnectionTrait, account: Uuid) -> Result<()> {
    Entity::delete_by_id(account).exec(conn).await?;
    Ok(())
}

/// Keeps what others read of an account.
pub async fn set_shown_name(conn: &impl ConnectionTrait, account: Uuid, name: &str) -> Result<()> {
    let row =
        accounts::ActiveModel { id: Set(account), shown_name: Set(name.to_owned()), ..Default::default() };
    row.update(conn).await?;
    Ok(())
}
