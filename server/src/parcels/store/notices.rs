//! Every query over notices and the boards they stand on.

use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, ExprTrait, LikeExpr, OnConflict, Query, SelectStatement};
use sea_orm::{
    ActiveModelTrait, ColumnTrait, Condition, ConnectionTrait, EntityTrait, IntoActiveModel, PaginatorTrait,
    QueryFilter, QueryOrder, QuerySelect,
};
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use crate::entities::notices::{Column, Entity, Model};
use crate::entities::{accounts, club_boards, club_members, clubs};
use crate::platform::messages::Place;
use crate::platform::{Result, dialect};

/// The state of a notice that stands.
pub const OPEN: &str = "open";

/// A notice.
pub async fn notice(conn: &impl ConnectionTrait, id: Uuid) -> Result<Option<Model>> {
    Ok(Entity::find_by_id(id).one(conn).await?)
}

/// The same, and nobody else may change it until the write ends.
pub async fn lock(conn: &impl ConnectionTrait, id: Uuid) -> Result<Option<Model>> {
    Ok(dialect::lock_rows(Entity::find_by_id(id), conn).one(conn).await?)
}

/// Keeps a new one.
pub async fn insert(conn: &impl ConnectionTrait, row: Model) -> Result<()> {
    Entity::insert(row.into_active_model().reset_all()).exec_without_returning(conn).await?;
    Ok(())
}

/// Keeps what was changed of one.
pub async fn save(conn: &impl ConnectionTrait, row: Model) -> Result<()> {
    row.into_active_model().reset_all().update(conn).await?;
    Ok(())
}

/// Which notices.
pub struct Wanted<'a> {
    /// The account's own, whatever their state; else those that stand where it may read them.
    pub mine: bool,
    /// Who looks.
    pub account: AccountId,
    /// Put up by this one.
    pub author: Option<AccountId>,
    /// The clubs they belong to.
    pub clubs: &'a [Uuid],
    /// Of one kind.
    pub kind: Option<&'a str>,
    /// On one club's board.
    pub club: Option<Uuid>,
    /// With all of these words in them, in lower case.
    pub words: &'a [String],
    /// The time.
    pub now_ms: i64,
}

/// Notices after a place, those put up last first.
pub async fn board(
    conn: &impl ConnectionTrait,
    wanted: &Wanted<'_>,
    after: Option<Place>,
    most: u64,
) -> Result<Vec<Model>> {
    let mut query = Entity::find();
    if wanted.mine {
        query = query.filter(Column::Author.eq(wanted.account.0));
    } else {
        let here = Condition::any().add(Column::Club.is_in(wanted.clubs.iter().copied()));
        // only who belongs to a club reads what is for all of them
        let here = if wanted.clubs.is_empty() { here } else { here.add(Column::AllClubs.eq(true)) };
        query = query
            .filter(Column::State.eq(OPEN))
            .filter(Column::EndsMs.gt(wanted.now_ms))
            .filter(here)
            .filter(Expr::exists(author_is_there()));
    }
    if let Some(author) = wanted.author {
        query = query.filter(Column::Author.eq(author.0));
    }
    if let Some(kind) = wanted.kind {
        query = query.filter(Column::Kind.eq(kind));
    }
    if let Some(club) = wanted.club {
        query = query.filter(Column::Club.eq(club));
    }
    for word in wanted.words {
        query = query.filter(Column::Words.like(containing(word)));
    }
    if let Some((made, id)) = after {
        let same = Condition::all().add(Column::MadeMs.eq(made)).add(Column::Id.lt(id));
        query = query.filter(Condition::any().add(Column::MadeMs.lt(made)).add(same));
    }
    Ok(query.order_by_desc(Column::MadeMs).order_by_desc(Column::Id).limit(most).all(conn).await?)
}

/// The author belongs to the club still, and the account is open.
fn author_is_there() -> SelectStatement {
    Query::select()
        .expr(Expr::val(1))
        .from(club_members::Entity)
        .inner_join(
            accounts::Entity,
            Expr::col((accounts::Entity, accounts::Column::Id))
                .equals((club_members::Entity, club_members::Column::Account)),
        )
        .and_where(
            Expr::col((club_members::Entity, club_members::Column::Club)).equals((Entity, Column::Club)),
        )
        .and_where(
            Expr::col((club_members::Entity, club_members::Column::Account)).equals((Entity, Column::Author)),
        )
        .and_where(Expr::col((accounts::Entity, accounts::Column::ClosedMs)).is_null())
        .to_owned()
}

/// A pattern for whatever has this in it; what is special in a pattern stands for itself.
fn containing(word: &str) -> LikeExpr {
    let plain: String = word
        .chars()
        .flat_map(|c| matches!(c, '%' | '_' | '\\').then_some('\\').into_iter().chain([c]))
        .collect();
    LikeExpr::new(format!("%{plain}%")).escape('\\')
}

/// Whether somebody belongs to a club now, with an open account.
pub async fn is_member(conn: &impl ConnectionTrait, club: Uuid, account: AccountId) -> Result<bool> {
    if club_members::Entity::find_by_id((club, account.0)).one(conn).await?.is_none() {
        return Ok(false);
    }
    let account = accounts::Entity::find_by_id(account.0).one(conn).await?;
    Ok(account.is_some_and(|account| account.closed_ms.is_none()))
}

/// The ids of the clubs somebody belongs to.
pub async fn clubs_of(conn: &impl ConnectionTrait, account: AccountId) -> Result<Vec<Uuid>> {
    let query = club_members::Entity::find().filter(club_members::Column::Account.eq(account.0));
    Ok(query.all(conn).await?.into_iter().map(|row| row.club).collect())
}

/// What these clubs are called.
pub async fn club_names(
    conn: &impl ConnectionTrait,
    ids: impl IntoIterator<Item = Uuid>,
) -> Result<std::collections::HashMap<Uuid, String>> {
    let rows = clubs::Entity::find().filter(clubs::Column::Id.is_in(ids)).all(conn).await?;
    Ok(rows.into_iter().map(|row| (row.id, row.name)).collect())
}

/// How many notices somebody has put up since a time.
pub async fn put_up_since(conn: &impl ConnectionTrait, account: AccountId, since_ms: i64) -> Result<u64> {
    let query = Entity::find().filter(Column::Author.eq(account.0)).filter(Column::MadeMs.gt(since_ms));
    Ok(query.count(conn).await?)
}

/// Notices that stand and end until a time.
pub async fn ending(conn: &impl ConnectionTrait, until_ms: i64) -> Result<Vec<Model>> {
    let query = Entity::find().filter(Column::State.eq(OPEN)).filter(Column::EndsMs.lte(until_ms));
    Ok(query.order_by_asc(Column::EndsMs).order_by_asc(Column::Id).all(conn).await?)
}

/// How many days a club lets a notice stand; none if it never said.
pub async fn notice_days(conn: &impl ConnectionTrait, club: Uuid) -> Result<Option<i32>> {
    Ok(club_boards::Entity::find_by_id(club).one(conn).await?.map(|row| row.notice_days))
}

/// Keeps how many.
pub async fn set_notice_days(conn: &impl ConnectionTrait, club: Uuid, days: i32) -> Result<()> {
    let row = club_boards::ActiveModel { club: Set(club), notice_days: Set(days) };
    let again = OnConflict::column(club_boards::Column::Club)
        .update_column(club_boards::Column::NoticeDays)
        .to_owned();
    club_boards::Entity::insert(row).on_conflict(again).exec_without_returning(conn).await?;
    Ok(())
}

/// The notices of an account, the newest first.
pub async fn by(conn: &impl ConnectionTrait, account: AccountId) -> Result<Vec<Model>> {
    let rows = Entity::find().filter(Column::Author.eq(account.0)).order_by_desc(Column::MadeMs);
    Ok(rows.all(conn).await?)
}

/// The notices of who leaves end, and nothing that they wrote is left in them.
pub async fn forget(conn: &impl ConnectionTrait, account: AccountId, now_ms: i64) -> Result<()> {
    Entity::update_many()
        .col_expr(Column::State, Expr::value("ended"))
        .col_expr(Column::ChangedMs, Expr::value(now_ms))
        .filter(Column::Author.eq(account.0))
        .filter(Column::State.eq("open"))
        .exec(conn)
        .await?;
    Entity::update_many()
        .col_expr(Column::Area, Expr::value(""))
        .col_expr(Column::Words, Expr::value(""))
        .col_expr(Column::Remarks, Expr::value(Option::<String>::None))
        .col_expr(Column::Exchange, Expr::value(Option::<String>::None))
        .col_expr(Column::Room, Expr::value(Option::<Uuid>::None))
        .col_expr(Column::Stock, Expr::value(Option::<Uuid>::None))
        .filter(Column::Author.eq(account.0))
        .exec(conn)
        .await?;
    Ok(())
}
