//! Every query over threads and their lines.

use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::Expr;
use sea_orm::{
    ActiveModelTrait, ColumnTrait, Condition, ConnectionTrait, EntityTrait, IntoActiveModel, PaginatorTrait,
    QueryFilter, QueryOrder, QuerySelect,
};
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use crate::entities::threads::{ActiveModel, Column, Entity, Model};
use crate::entities::{thread_lines, thread_lines::Column as Line};
use crate::platform::messages::Place;
use crate::platform::{Result, dialect};

/// A thread.
pub async fn thread(conn: &impl ConnectionTrait, id: Uuid) -> Result<Option<Model>> {
    Ok(Entity::find_by_id(id).one(conn).await?)
}

/// The same, and nobody else may write in it until the write ends.
pub async fn lock(conn: &impl ConnectionTrait, id: Uuid) -> Result<Option<Model>> {
    Ok(dialect::lock_rows(Entity::find_by_id(id), conn).one(conn).await?)
}

/// The thread of a member about a notice.
pub async fn about(conn: &impl ConnectionTrait, notice: Uuid, guest: AccountId) -> Result<Option<Model>> {
    let query = Entity::find().filter(Column::Notice.eq(notice)).filter(Column::Guest.eq(guest.0));
    Ok(query.one(conn).await?)
}

/// The thread of two members that is about no notice.
pub async fn between(conn: &impl ConnectionTrait, one: AccountId, two: AccountId) -> Result<Option<Model>> {
    let way = |host: AccountId, guest: AccountId| {
        Condition::all().add(Column::Host.eq(host.0)).add(Column::Guest.eq(guest.0))
    };
    let query = Entity::find()
        .filter(Column::Notice.is_null())
        .filter(Condition::any().add(way(one, two)).add(way(two, one)))
        .order_by_asc(Column::Id);
    Ok(query.one(conn).await?)
}

/// The threads about a notice, those last written in first.
pub async fn of_notice(conn: &impl ConnectionTrait, notice: Uuid, most: u64) -> Result<Vec<Model>> {
    let query = Entity::find().filter(Column::Notice.eq(notice));
    Ok(query.order_by_desc(Column::LastMs).order_by_desc(Column::Id).limit(most).all(conn).await?)
}

/// Somebody's threads after a place, those last written in first.
pub async fn of_account(
    conn: &impl ConnectionTrait,
    account: AccountId,
    after: Option<Place>,
    most: u64,
) -> Result<Vec<Model>> {
    let party = Condition::any().add(Column::Host.eq(account.0)).add(Column::Guest.eq(account.0));
    let mut query = Entity::find().filter(party);
    if let Some((last, id)) = after {
        let same = Condition::all().add(Column::LastMs.eq(last)).add(Column::Id.lt(id));
        query = query.filter(Condition::any().add(Column::LastMs.lt(last)).add(same));
    }
    Ok(query.order_by_desc(Column::LastMs).order_by_desc(Column::Id).limit(most).all(conn).await?)
}

/// Keeps a new one.
pub async fn insert(conn: &impl ConnectionTrait, row: Model) -> Result<()> {
    Entity::insert(row.into_active_model().reset_all()).exec_without_returning(conn).await?;
    Ok(())
}

/// Lines before a place, the newest first.
pub async fn lines(
    conn: &impl ConnectionTrait,
    thread: Uuid,
    before: Option<Place>,
    most: u64,
) -> Result<Vec<thread_lines::Model>> {
    let mut query = thread_lines::Entity::find().filter(Line::Thread.eq(thread));
    if let Some((made, id)) = before {
        let same = Condition::all().add(Line::MadeMs.eq(made)).add(Line::Id.lt(id));
        query = query.filter(Condition::any().add(Line::MadeMs.lt(made)).add(same));
    }
    Ok(query.order_by_desc(Line::MadeMs).order_by_desc(Line::Id).limit(most).all(conn).await?)
}

/// A line.
pub async fn line(conn: &impl ConnectionTrait, id: Uuid) -> Result<Option<thread_lines::Model>> {
    Ok(thread_lines::Entity::find_by_id(id).one(conn).await?)
}

/// The last line that somebody wrote in a thread.
pub async fn last_by(conn: &impl ConnectionTrait, thread: Uuid, account: AccountId) -> Result<Option<Uuid>> {
    let query = thread_lines::Entity::find()
        .filter(Line::Thread.eq(thread))
        .filter(Line::Author.eq(account.0))
        .order_by_desc(Line::MadeMs)
        .order_by_desc(Line::Id);
    Ok(query.one(conn).await?.map(|line| line.id))
}

/// Keeps a new line, which is the thread's last.
pub async fn insert_line(conn: &impl ConnectionTrait, row: thread_lines::Model) -> Result<()> {
    let (thread, made) = (row.thread, row.made_ms);
    thread_lines::Entity::insert(row.into_active_model().reset_all()).exec_without_returning(conn).await?;
    ActiveModel { id: Set(thread), last_ms: Set(made), ..Default::default() }.update(conn).await?;
    Ok(())
}

/// How many threads somebody has begun since a time.
pub async fn begun_since(conn: &impl ConnectionTrait, account: AccountId, since_ms: i64) -> Result<u64> {
    let query = Entity::find().filter(Column::Guest.eq(account.0)).filter(Column::MadeMs.gt(since_ms));
    Ok(query.count(conn).await?)
}

/// How many lines somebody has written since a time.
pub async fn written_since(conn: &impl ConnectionTrait, account: AccountId, since_ms: i64) -> Result<u64> {
    let query =
        thread_lines::Entity::find().filter(Line::Author.eq(account.0)).filter(Line::MadeMs.gt(since_ms));
    Ok(query.count(conn).await?)
}

/// Every line an account wrote, oldest first.
pub async fn lines_by(conn: &impl ConnectionTrait, account: AccountId) -> Result<Vec<thread_lines::Model>> {
    let rows = thread_lines::Entity::find().filter(Line::Author.eq(account.0)).order_by_asc(Line::MadeMs);
    Ok(rows.all(conn).await?)
}

/// What stands where somebody wrote who has left the server.
pub const TAKEN_OUT: &str = "(taken out: who wrote this has left)";

/// The lines of who leaves are emptied; the threads stay their partners'.
pub async fn forget(conn: &impl ConnectionTrait, account: AccountId) -> Result<()> {
    thread_lines::Entity::update_many()
        .col_expr(Line::Text, Expr::value(TAKEN_OUT))
        .filter(Line::Author.eq(account.0))
        .exec(conn)
        .await?;
    Ok(())
}
