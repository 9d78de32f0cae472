//! The round that seals what is new. Ids may be committed out of order, so a seal takes what has none yet, whatever its
//! id: one statement marks it, and what it marked is what the seal holds. What commits later is the next one's.

use sea_orm::sea_query::{Expr, ExprTrait, Query};
use sea_orm::{
    ActiveModelTrait, ColumnTrait, ConnectionTrait, EntityTrait, IntoActiveModel, QueryFilter, QueryOrder,
};
use serde_json::Value;

use super::chain;
use crate::entities::audit_facts::{self, Column};
use crate::entities::audit_seals;
use crate::platform::errors::Result;
use crate::platform::write::Write;

/// The round's name.
pub const ROUND: &str = "audit.seal";
/// How often it comes.
pub const ROUND_MS: i64 = 60_000;
/// The most facts of one seal, so that a check reads them at once.
const MOST: u64 = 1_000;

/// Seals all facts that have no seal yet, those from before there were seals too.
pub async fn round(w: &mut Write, _: Value) -> Result<()> {
    while seal_some(w).await? {}
    Ok(())
}

async fn seal_some(w: &Write) -> Result<bool> {
    let before = newest(w.tx()).await?;
    let number = before.as_ref().map_or(1, |seal| seal.number + 1);
    let some = Query::select()
        .column(Column::Id)
        .from(audit_facts::Entity)
        .and_where(Expr::col(Column::Seal).is_null())
        .order_by(Column::Id, sea_orm::Order::Asc)
        .limit(MOST)
        .take();
    let marked = audit_facts::Entity::update_many()
        .col_expr(Column::Seal, Expr::value(number))
        .filter(Column::Id.in_subquery(some))
        .exec(w.tx())
        .await?;
    if marked.rows_affected == 0 {
        return Ok(false);
    }
    let facts = held_by(w.tx(), number).await?;
    let (Some(first), Some(last)) = (facts.first(), facts.last()) else { return Ok(false) };
    let mut seal = audit_seals::Model {
        number,
        first_fact: first.id,
        last_fact: last.id,
        facts: i64::try_from(facts.len()).unwrap_or(i64::MAX),
        at_ms: w.now,
        hash: Vec::new(),
    };
    seal.hash = chain::hash(before.as_ref().map(|seal| seal.hash.as_slice()), &seal, &facts);
    seal.into_active_model().reset_all().insert(w.tx()).await?;
    Ok(true)
}

/// The facts of a seal, in the order of their ids.
pub(super) async fn held_by(conn: &impl ConnectionTrait, number: i64) -> Result<Vec<audit_facts::Model>> {
    let query = audit_facts::Entity::find().filter(Column::Seal.eq(number)).order_by_asc(Column::Id);
    Ok(query.all(conn).await?)
}

/// The newest seal; none before the first minute.
pub async fn newest(conn: &impl ConnectionTrait) -> Result<Option<audit_seals::Model>> {
    Ok(audit_seals::Entity::find().order_by_desc(audit_seals::Column::Number).one(conn).await?)
}

/// One seal.
pub async fn numbered(conn: &impl ConnectionTrait, number: i64) -> Result<Option<audit_seals::Model>> {
    Ok(audit_seals::Entity::find_by_id(number).one(conn).await?)
}
