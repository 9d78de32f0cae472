//! Reads the whole audit and says, in words, which row or seal does not fit. Changes nothing.

use sea_orm::sea_query::Query;
use sea_orm::{
    ColumnTrait, ConnectionTrait, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder, QuerySelect,
};

use super::chain;
use super::seal::held_by;
use crate::entities::audit_facts::{self, Column};
use crate::entities::audit_seals;
use crate::platform::ctx::Ctx;
use crate::platform::errors::Result;
use crate::platform::html::day_and_time;

/// How many rows are read at once.
const AT_ONCE: u64 = 1_000;

/// What was found.
#[derive(Debug, Default)]
pub struct Verdict {
    /// How many facts there are.
    pub facts: u64,
    /// How many of them have no seal yet.
    pub unsealed: u64,
    /// The newest seal.
    pub newest: Option<audit_seals::Model>,
    /// What is wrong; nothing, if all is well.
    pub faults: Vec<String>,
}

/// Checks every fact and the chain of seals, as they are at one moment.
///
/// # Errors
/// Of the database only: what is wrong is an answer.
pub async fn verify(ctx: &Ctx) -> Result<Verdict> {
    let snapshot = ctx.db.snapshot().await?;
    let mut verdict = Verdict::default();
    seals(&snapshot, &mut verdict).await?;
    unsealed(&snapshot, &mut verdict).await?;
    strays(&snapshot, &mut verdict).await?;
    snapshot.rollback().await?;
    Ok(verdict)
}

async fn seals(conn: &impl ConnectionTrait, verdict: &mut Verdict) -> Result<()> {
    let mut last: Option<audit_seals::Model> = None;
    loop {
        let after = last.as_ref().map_or(i64::MIN, |seal| seal.number);
        let page = audit_seals::Entity::find()
            .filter(audit_seals::Column::Number.gt(after))
            .order_by_asc(audit_seals::Column::Number)
            .limit(AT_ONCE);
        let page = page.all(conn).await?;
        if page.is_empty() {
            break;
        }
        for seal in page {
            one(conn, last.as_ref(), &seal, verdict).await?;
            last = Some(seal);
        }
    }
    verdict.newest = last;
    Ok(())
}

async fn one(
    conn: &impl ConnectionTrait,
    before: Option<&audit_seals::Model>,
    seal: &audit_seals::Model,
    verdict: &mut Verdict,
) -> Result<()> {
    let (number, due) = (seal.number, before.map_or(1, |seal| seal.number + 1));
    if number != due {
        verdict.faults.push(format!("seal {due} is missing: the next that is there is seal {number}"));
    }
    let facts = held_by(conn, number).await?;
    verdict.facts += facts.len() as u64;
    let before_this = verdict.faults.len();
    told(&facts, verdict);
    let facts_fit = verdict.faults.len() == before_this;
    if facts.len() as u64 != seal.facts.unsigned_abs() {
        verdict.faults.push(format!(
            "seal {number} was made of {} facts ({} to {}), and {} are there",
            seal.facts,
            seal.first_fact,
            seal.last_fact,
            facts.len()
        ));
    } else if seal.hash != chain::hash(before.map(|seal| seal.hash.as_slice()), seal, &facts) {
        let what = if facts_fit {
            "a fact was put in another's place, or it or the seal before it was changed"
        } else {
            "see its facts"
        };
        verdict.faults.push(format!("seal {number} of {} does not fit: {what}", day_and_time(seal.at_ms)));
    }
    Ok(())
}

fn told(facts: &[audit_facts::Model], verdict: &mut Verdict) {
    for fact in facts.iter().filter(|fact| !chain::fits(fact)) {
        let at = day_and_time(fact.at_ms);
        verdict.faults.push(format!("fact {} of {at} was changed: its digest is another's", fact.id));
    }
}

async fn unsealed(conn: &impl ConnectionTrait, verdict: &mut Verdict) -> Result<()> {
    let mut after = i64::MIN;
    loop {
        let page = audit_facts::Entity::find()
            .filter(Column::Seal.is_null())
            .filter(Column::Id.gt(after))
            .order_by_asc(Column::Id)
            .limit(AT_ONCE);
        let page = page.all(conn).await?;
        let Some(last) = page.last() else { return Ok(()) };
        after = last.id;
        verdict.facts += page.len() as u64;
        verdict.unsealed += page.len() as u64;
        told(&page, verdict);
    }
}

/// Facts that name a seal which is not there would be read by nobody otherwise.
async fn strays(conn: &impl ConnectionTrait, verdict: &mut Verdict) -> Result<()> {
    let known = Query::select().column(audit_seals::Column::Number).from(audit_seals::Entity).take();
    let strays = audit_facts::Entity::find()
        .filter(Column::Seal.is_not_null())
        .filter(Column::Seal.not_in_subquery(known));
    let count = strays.clone().count(conn).await?;
    if let Some(first) = strays.order_by_asc(Column::Id).one(conn).await? {
        verdict.facts += count;
        let seal = first.seal.unwrap_or_default();
        verdict.faults.push(format!(
            "{count} facts name seals that are not there; the first is fact {}, of seal {seal}",
            first.id
        ));
    }
    Ok(())
}
