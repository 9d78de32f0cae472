//! Queries over links that go out by mail, and over whose address it is.

use sea_orm::ActiveValue::Set;
use sea_orm::{
    ActiveModelTrait, ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect,
    QueryTrait,
};
use uuid::Uuid;

use crate::entities::mail_links::{Column, Entity, Model};
use crate::entities::{account_telling, accounts};
use crate::platform::{Result, dialect};

/// Keeps a link.
pub async fn insert_link(conn: &impl ConnectionTrait, row: Model) -> Result<()> {
    let row = crate::entities::mail_links::ActiveModel {
        hash: Set(row.hash),
        purpose: Set(row.purpose),
        account: Set(row.account),
        email: Set(row.email),
        made_ms: Set(row.made_ms),
        expires_ms: Set(row.expires_ms),
    };
    Entity::insert(row).exec_without_returning(conn).await?;
    Ok(())
}

/// A link by the hash of its token.
pub async fn link(conn: &impl ConnectionTrait, hash: &[u8]) -> Result<Option<Model>> {
    Ok(Entity::find_by_id(hash.to_vec()).one(conn).await?)
}

/// Uses a link; false if somebody else did.
pub async fn take_link(conn: &impl ConnectionTrait, hash: &[u8]) -> Result<bool> {
    Ok(Entity::delete_by_id(hash.to_vec()).exec(conn).await?.rows_affected > 0)
}

/// Links for this purpose that were made since then, the newest first: of an account, or to an address that has none.
pub async fn links_made(
    conn: &impl ConnectionTrait,
    purpose: &str,
    (account, email): (Option<Uuid>, &str),
    since_ms: i64,
) -> Result<Vec<Model>> {
    let query = Entity::find().filter(Column::Purpose.eq(purpose)).filter(Column::MadeMs.gt(since_ms));
    let query = match account {
        Some(account) => query.filter(Column::Account.eq(account)),
        None => query.filter(Column::Email.eq(email)).filter(Column::Account.is_null()),
    };
    Ok(query.order_by_desc(Column::MadeMs).all(conn).await?)
}

/// The links of an account.
pub async fn links_of(conn: &impl ConnectionTrait, account: Uuid) -> Result<Vec<Model>> {
    Ok(Entity::find().filter(Column::Account.eq(account)).order_by_asc(Column::MadeMs).all(conn).await?)
}

/// Ends every link of an account.
pub async fn end_links(conn: &impl ConnectionTrait, account: Uuid) -> Result<()> {
    Entity::delete_many().filter(Column::Account.eq(account)).exec(conn).await?;
    Ok(())
}

/// Ends every link that went to an address.
pub async fn end_links_to(conn: &impl ConnectionTrait, email: &str) -> Result<()> {
    Entity::delete_many().filter(Column::Email.eq(email)).exec(conn).await?;
    Ok(())
}

/// Forgets links that were over before then.
pub async fn forget_links(conn: &impl ConnectionTrait, before_ms: i64) -> Result<()> {
    Entity::delete_many().filter(Column::ExpiresMs.lt(before_ms)).exec(conn).await?;
    Ok(())
}

/// Keeps another address, or none.
pub async fn set_email(conn: &impl ConnectionTrait, account: Uuid, email: &str) -> Result<()> {
    let row = accounts::ActiveModel { id: Set(account), email: Set(email.to_owned()), ..Default::default() };
    row.update(conn).await?;
    Ok(())
}

/// An account, and nobody else may change it until the write ends.
pub async fn lock_account(conn: &impl ConnectionTrait, id: Uuid) -> Result<Option<accounts::Model>> {
    Ok(dialect::lock_rows(accounts::Entity::find_by_id(id), conn).one(conn).await?)
}

/// Whether the owner of an account's present address has shown that it is theirs.
pub async fn is_proven(conn: &impl ConnectionTrait, person: &accounts::Model) -> Result<bool> {
    let row = super::telling(conn, person.id).await?;
    Ok(!person.email.is_empty() && row.is_some_and(|row| row.proven_email.as_ref() == Some(&person.email)))
}

/// The accounts whose proven address this is, by login name.
pub async fn accounts_at(conn: &impl ConnectionTrait, email: &str) -> Result<Vec<accounts::Model>> {
    if email.is_empty() {
        return Ok(Vec::new());
    }
    let proven = account_telling::Entity::find()
        .select_only()
        .column(account_telling::Column::Account)
        .filter(account_telling::Column::ProvenEmail.eq(email))
        .into_query();
    let query = accounts::Entity::find()
        .filter(accounts::Column::Email.eq(email))
        .filter(accounts::Column::Id.in_subquery(proven))
        .filter(accounts::Column::ClosedMs.is_null())
        .order_by_asc(accounts::Column::LoginName);
    Ok(query.all(conn).await?)
}
