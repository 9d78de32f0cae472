//! Queries over the member list. Who has left stays on file, and is in no list.

use std::collections::HashMap;

use sea_orm::sea_query::Expr;
use sea_orm::{
    ActiveModelTrait, ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect,
};
use uuid::Uuid;

use crate::entities::{accounts, club_people};
use crate::platform::{Result, dialect};

/// Everybody on a club's list, by name.
pub async fn list(conn: &impl ConnectionTrait, club: Uuid) -> Result<Vec<club_people::Model>> {
    let query = on_the_list(club).order_by_asc(club_people::Column::Name);
    Ok(query.order_by_asc(club_people::Column::Person).all(conn).await?)
}

/// A page of the list, by id.
pub async fn list_after(
    conn: &impl ConnectionTrait,
    club: Uuid,
    after: Option<Uuid>,
    most: u64,
) -> Result<Vec<club_people::Model>> {
    let query = on_the_list(club).order_by_asc(club_people::Column::Person).limit(most);
    let query = match after {
        Some(after) => query.filter(club_people::Column::Person.gt(after)),
        None => query,
    };
    Ok(query.all(conn).await?)
}

fn on_the_list(club: Uuid) -> sea_orm::Select<club_people::Entity> {
    club_people::Entity::find()
        .filter(club_people::Column::Club.eq(club))
        .filter(club_people::Column::LeftMs.is_null())
}

/// Somebody on the list.
pub async fn person(
    conn: &impl ConnectionTrait,
    club: Uuid,
    person: Uuid,
) -> Result<Option<club_people::Model>> {
    Ok(on_the_list(club).filter(club_people::Column::Person.eq(person)).one(conn).await?)
}

/// The same, also of who has left, and nobody else may change the line until the write ends.
pub async fn lock_person(
    conn: &impl ConnectionTrait,
    club: Uuid,
    person: Uuid,
) -> Result<Option<club_people::Model>> {
    Ok(dialect::lock_rows(club_people::Entity::find_by_id((club, person)), conn).one(conn).await?)
}

/// The line of somebody who signs in.
pub async fn person_of(
    conn: &impl ConnectionTrait,
    club: Uuid,
    account: Uuid,
) -> Result<Option<club_people::Model>> {
    Ok(on_the_list(club).filter(club_people::Column::Account.eq(account)).one(conn).await?)
}

/// Keeps a new line.
pub async fn insert_person(conn: &impl ConnectionTrait, row: club_people::ActiveModel) -> Result<()> {
    club_people::Entity::insert(row).exec_without_returning(conn).await?;
    Ok(())
}

/// Keeps a line as it is now.
pub async fn save_person(conn: &impl ConnectionTrait, row: club_people::ActiveModel) -> Result<()> {
    row.update(conn).await?;
    Ok(())
}

/// The line of an account is on no list any more.
pub async fn off_the_list(conn: &impl ConnectionTrait, club: Uuid, account: Uuid, now: i64) -> Result<()> {
    club_people::Entity::update_many()
        .col_expr(club_people::Column::LeftMs, Expr::value(now))
        .filter(club_people::Column::Club.eq(club))
        .filter(club_people::Column::Account.eq(account))
        .filter(club_people::Column::LeftMs.is_null())
        .exec(conn)
        .await?;
    Ok(())
}

/// The lines of an account in all clubs.
pub async fn lines_of(conn: &impl ConnectionTrait, account: Uuid) -> Result<Vec<club_people::Model>> {
    let lines = club_people::Entity::find().filter(club_people::Column::Account.eq(account));
    Ok(lines.order_by_asc(club_people::Column::MadeMs).all(conn).await?)
}

/// What clubs wrote down of who leaves the server goes; that there was somebody stays.
pub async fn forget(conn: &impl ConnectionTrait, account: Uuid) -> Result<()> {
    club_people::Entity::update_many()
        .col_expr(club_people::Column::Name, Expr::value("somebody who left"))
        .col_expr(club_people::Column::Number, Expr::value(Option::<String>::None))
        .col_expr(club_people::Column::Email, Expr::value(Option::<String>::None))
        .col_expr(club_people::Column::Household, Expr::value(Option::<String>::None))
        .filter(club_people::Column::Account.eq(account))
        .exec(conn)
        .await?;
    Ok(())
}

/// What those with a login sign in with, and what others read of them.
pub async fn logins_of(
    conn: &impl ConnectionTrait,
    people: &[club_people::Model],
) -> Result<HashMap<Uuid, accounts::Model>> {
    let ids = people.iter().filter_map(|person| person.account);
    let rows = accounts::Entity::find().filter(accounts::Column::Id.is_in(ids)).all(conn).await?;
    Ok(rows.into_iter().map(|account| (account.id, account)).collect())
}
