//! Every query over swaps and what they speak of.

use sea_orm::sea_query::{Expr, ExprTrait, Query};
use sea_orm::{
    ActiveModelTrait, ColumnTrait, Condition, ConnectionTrait, EntityTrait, IntoActiveModel, PaginatorTrait,
    QueryFilter, QueryOrder, QuerySelect,
};
use tarn_domain::parcels::SwapState;
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use crate::entities::swaps::{Column, Entity, Model};
use crate::entities::{parcels, swap_rows};
use crate::platform::messages::Place;
use crate::platform::{Result, dialect};

/// A swap.
pub async fn swap(conn: &impl ConnectionTrait, id: Uuid) -> Result<Option<Model>> {
    Ok(Entity::find_by_id(id).one(conn).await?)
}

/// The same, and nobody else may change it until the write ends.
pub async fn lock(conn: &impl ConnectionTrait, id: Uuid) -> Result<Option<Model>> {
    Ok(dialect::lock_rows(Entity::find_by_id(id), conn).one(conn).await?)
}

/// Keeps a new one, with what it speaks of.
pub async fn insert(conn: &impl ConnectionTrait, row: Model, rows: Vec<swap_rows::Model>) -> Result<()> {
    Entity::insert(row.into_active_model().reset_all()).exec_without_returning(conn).await?;
    insert_rows(conn, rows).await
}

/// Keeps further rows.
pub async fn insert_rows(conn: &impl ConnectionTrait, rows: Vec<swap_rows::Model>) -> Result<()> {
    for row in rows {
        let row = row.into_active_model().reset_all();
        swap_rows::Entity::insert(row).exec_without_returning(conn).await?;
    }
    Ok(())
}

/// Takes away the rows of one side: who gives has said what it is to be.
pub async fn clear_rows(conn: &impl ConnectionTrait, swap: Uuid, asked: bool) -> Result<()> {
    let gone = swap_rows::Entity::delete_many().filter(swap_rows::Column::Swap.eq(swap));
    gone.filter(swap_rows::Column::Asked.eq(asked)).exec(conn).await?;
    Ok(())
}

/// Keeps what was changed of one.
pub async fn save(conn: &impl ConnectionTrait, row: Model) -> Result<()> {
    row.into_active_model().reset_all().update(conn).await?;
    Ok(())
}

/// What a swap speaks of, in order.
pub async fn rows(conn: &impl ConnectionTrait, swap: Uuid) -> Result<Vec<swap_rows::Model>> {
    let query = swap_rows::Entity::find().filter(swap_rows::Column::Swap.eq(swap));
    Ok(query.order_by_asc(swap_rows::Column::Ordinal).all(conn).await?)
}

/// Somebody's swaps after a place, the newest first.
pub async fn of_account(
    conn: &impl ConnectionTrait,
    account: AccountId,
    after: Option<Place>,
    most: u64,
) -> Result<Vec<Model>> {
    let party = Condition::any().add(Column::Proposer.eq(account.0)).add(Column::Other.eq(account.0));
    let mut query = Entity::find().filter(party);
    if let Some((made, id)) = after {
        let same = Condition::all().add(Column::MadeMs.eq(made)).add(Column::Id.lt(id));
        query = query.filter(Condition::any().add(Column::MadeMs.lt(made)).add(same));
    }
    Ok(query.order_by_desc(Column::MadeMs).order_by_desc(Column::Id).limit(most).all(conn).await?)
}

/// The swaps of a thread, the newest first.
pub async fn of_thread(conn: &impl ConnectionTrait, thread: Uuid) -> Result<Vec<Model>> {
    let query = Entity::find().filter(Column::Thread.eq(thread));
    Ok(query.order_by_desc(Column::MadeMs).order_by_desc(Column::Id).limit(50).all(conn).await?)
}

/// How many somebody has proposed since a time.
pub async fn proposed_since(conn: &impl ConnectionTrait, account: AccountId, since_ms: i64) -> Result<u64> {
    let query = Entity::find().filter(Column::Proposer.eq(account.0)).filter(Column::MadeMs.gt(since_ms));
    Ok(query.count(conn).await?)
}

/// Proposals whose days are over.
pub async fn run_out(conn: &impl ConnectionTrait, now_ms: i64) -> Result<Vec<Model>> {
    let query = Entity::find().filter(Column::State.eq(SwapState::Proposed.as_str()));
    Ok(query.filter(Column::EndsMs.lte(now_ms)).order_by_asc(Column::Id).all(conn).await?)
}

/// Swaps that are agreed and not done, of which some room tells that a parcel came: the others can't be done yet.
pub async fn under_way(conn: &impl ConnectionTrait) -> Result<Vec<Model>> {
    let came = |parcel: Column| {
        let arrived = Query::select()
            .expr(Expr::val(1))
            .from(parcels::Entity)
            .and_where(Expr::col((parcels::Entity, parcels::Column::Id)).equals((Entity, parcel)))
            .and_where(Expr::col((parcels::Entity, parcels::Column::IsArrived)).eq(true))
            .to_owned();
        Expr::exists(arrived)
    };
    let query = Entity::find()
        .filter(Column::State.eq(SwapState::Agreed.as_str()))
        .filter(Condition::any().add(came(Column::GiveParcel)).add(came(Column::AskParcel)));
    Ok(query.order_by_asc(Column::Id).all(conn).await?)
}

/// The swaps that an account proposed or was asked for, the newest first.
pub async fn with(conn: &impl ConnectionTrait, account: AccountId) -> Result<Vec<Model>> {
    let theirs = Column::Proposer.eq(account.0).or(Column::Other.eq(account.0));
    Ok(Entity::find().filter(theirs).order_by_desc(Column::MadeMs).all(conn).await?)
}

/// Who leaves swaps no more: what is only proposed is withdrawn or declined, and their words go.
pub async fn forget(conn: &impl ConnectionTrait, account: AccountId, now_ms: i64) -> Result<()> {
    for (side, state) in [(Column::Proposer, SwapState::Withdrawn), (Column::Other, SwapState::Declined)] {
        Entity::update_many()
            .col_expr(Column::State, Expr::value(state.as_str()))
            .col_expr(Column::ChangedMs, Expr::value(now_ms))
            .filter(side.eq(account.0))
            .filter(Column::State.eq(SwapState::Proposed.as_str()))
            .exec(conn)
            .await?;
    }
    Entity::update_many()
        .col_expr(Column::GiveWords, Expr::value(Option::<String>::None))
        .col_expr(Column::AskWords, Expr::value(Option::<String>::None))
        .filter(Column::Proposer.eq(account.0))
        .exec(conn)
        .await?;
    Ok(())
}
