//! The figures of the shelf itself: the queue, the post, the audit.

use futures_util::future::LocalBoxFuture;
use sea_orm::{ColumnTrait, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder};

use super::{Reading, seconds_of};
use crate::entities::{audit_facts, jobs, mail_outbox};
use crate::platform::audit;
use crate::platform::ctx::Ctx;
use crate::platform::errors::Result;

/// Reads them.
pub(super) fn readings(ctx: &Ctx) -> LocalBoxFuture<'_, Result<Vec<Reading>>> {
    Box::pin(async move {
        let mut all = queue(ctx).await?;
        all.extend(post(ctx).await?);
        all.extend(facts(ctx).await?);
        Ok(all)
    })
}

async fn queue(ctx: &Ctx) -> Result<Vec<Reading>> {
    let (conn, now) = (&ctx.db.conn, ctx.clock.now_ms());
    let open = jobs::Entity::find().filter(jobs::Column::DoneMs.is_null());
    let due = open.clone().filter(jobs::Column::NotBeforeMs.lte(now));
    let oldest = due.clone().order_by_asc(jobs::Column::NotBeforeMs).one(conn).await?;
    let age = oldest.map_or(0.0, |job| seconds_of((now - job.not_before_ms).max(0)));
    let failed = open.filter(jobs::Column::Tries.gt(0)).count(conn).await?;
    Ok(vec![
        Reading::count("tarn_jobs_due", "Queued work that could be done now.", due.count(conn).await?),
        Reading {
            name: "tarn_jobs_oldest_due_seconds",
            help: "For how long the oldest of it could have been done.",
            value: age,
        },
        Reading::count("tarn_jobs_failed", "Queued work that failed and is tried again later.", failed),
    ])
}

async fn post(ctx: &Ctx) -> Result<Vec<Reading>> {
    use mail_outbox::{Column, Entity};
    let conn = &ctx.db.conn;
    let waiting = Entity::find().filter(Column::SentMs.is_null()).filter(Column::GivenUpMs.is_null());
    let given_up = Entity::find().filter(Column::GivenUpMs.is_not_null());
    Ok(vec![
        Reading::count("tarn_mail_waiting", "Letters that wait to be sent.", waiting.count(conn).await?),
        Reading::count(
            "tarn_mail_given_up",
            "Letters of the last 30 days that no mail host took.",
            given_up.count(conn).await?,
        ),
    ])
}

async fn facts(ctx: &Ctx) -> Result<Vec<Reading>> {
    let conn = &ctx.db.conn;
    let unsealed = audit_facts::Entity::find().filter(audit_facts::Column::Seal.is_null());
    let newest = audit::newest(conn).await?;
    Ok(vec![
        Reading::count(
            "tarn_audit_unsealed",
            "Facts of the audit without a seal.",
            unsealed.count(conn).await?,
        ),
        Reading::count(
            "tarn_audit_seal",
            "The number of the newest seal.",
            newest.map_or(0, |seal| seal.number.unsigned_abs()),
        ),
    ])
}
