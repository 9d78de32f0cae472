//! Queries over links that go out by mail, and over whose address it is.

use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::Expr;
use sea_orm::{
    ActiveModelTrait, ColumnTrait, ConnectionTrait, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder,
    QuerySelect, QueryTrait,
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

/// Uses a link: it is over at `now`. False if it was over already. The row stays for a while, since it also says that a
/// letter went out.
pub async fn take_link(conn: &impl ConnectionTrait, hash: &[u8], now: i64) -> Result<bool> {
    let over = Entity::update_many()
        .col_expr(Column::ExpiresMs, Expr::value(now))
        .filter(Column::Hash.eq(hash.to_vec()))
        .filter(Column::ExpiresMs.gt(now));
    Ok(over.exec(conn).await?.rows_affected > 0)
}

/// Links for this purpose that went to an address since then, whoever has it, the newest first.
pub async fn letters_to(
    conn: &impl ConnectionTrait,
    (purpose, email): (&str, &str),
    since_ms: i64,
) -> Result<Vec<Model>> {
    let query = Entity::find().filter(Column::Purpose.eq(purpose)).filter(Column::Email.eq(email));
    Ok(query.filter(Column::MadeMs.gt(since_ms)).order_by_desc(Column::MadeMs).all(conn).await?)
}

/// Links for this purpose that an account had sent to other addresses since then.
pub async fn letters_by(
    conn: &impl ConnectionTrait,
    account: Uuid,
    (purpose, email): (&str, &str),
    since_ms: i64,
) -> Result<u64> {
    let query = Entity::find().filter(Column::Purpose.eq(purpose)).filter(Column::Account.eq(account));
    Ok(query.filter(Column::Email.ne(email)).filter(Column::MadeMs.gt(since_ms)).count(conn).await?)
}

/// The links of an account.
pub async fn links_of(conn: &impl ConnectionTrait, account: Uuid) -> Result<Vec<Model>> {
    Ok(Entity::find().filter(Column::Account.eq(account)).order_by_asc(Column::MadeMs).all(conn).await?)
}

/// Every link of an account is over.
pub async fn end_links(conn: &impl ConnectionTrait, account: Uuid, now: i64) -> Result<()> {
    Entity::update_many()
        .col_expr(Column::ExpiresMs, Expr::value(now))
        .filter(Column::Account.eq(account))
        .filter(Column::ExpiresMs.gt(now))
        .exec(conn)
        .await?;
    Ok(())
}

/// Forgets every link of an account.
pub async fn forget_links_of(conn: &impl ConnectionTrait, account: Uuid) -> Result<()> {
    Entity::delete_many().filter(Column::Account.eq(account)).exec(conn).await?;
    Ok(())
}

/// Forgets every link that went to an address.
pub async fn forget_links_to(conn: &impl ConnectionTrait, email: &str) -> Result<()> {
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
