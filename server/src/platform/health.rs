//! `/healthz`: the process lives. `/readyz`: it can do its work.
//!
//! Asked by whatever watches the server, so nothing here needs a login or tells anything about people.

use actix_web::{get, web};
use futures_util::future::LocalBoxFuture;
use sea_orm::ConnectionTrait;
use serde::Serialize;
use utoipa::ToSchema;

use super::ctx::Ctx;
use super::errors::Result;

/// Tells how many streams an area has still to make ready for this version.
pub type BacklogFn = for<'a> fn(&'a Ctx) -> LocalBoxFuture<'a, Result<u64>>;

/// The areas that may have some; set once, in `app.rs`.
#[derive(Default)]
pub struct Backlog(pub Vec<BacklogFn>);

/// How the server is.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"status": "ready", "streams_to_rebuild": 0}))]
pub struct Health {
    /// `alive` or `ready`
    status: &'static str,
    /// How many streams are made ready for this version only when they are written next; `check --rebuild` does it now
    #[serde(skip_serializing_if = "Option::is_none")]
    streams_to_rebuild: Option<u64>,
    /// How far its clock is shifted; only while it is
    #[serde(skip_serializing_if = "Option::is_none")]
    clock_offset: Option<String>,
}

/// Says that the process lives
#[utoipa::path(tag = "platform", responses((status = 200, description = "It lives", body = Health)))]
#[get("/healthz")]
async fn healthz() -> web::Json<Health> {
    web::Json(Health { status: "alive", streams_to_rebuild: None, clock_offset: None })
}

/// Says whether the server can do its work
#[utoipa::path(
    tag = "platform",
    responses(
        (status = 200, description = "It can", body = Health),
        (status = 500, description = "The database does not answer: `failed`", body = super::openapi::ProblemBody,
         content_type = "application/problem+json"),
        (status = 503, description = "The database is busy: `busy`", body = super::openapi::ProblemBody,
         content_type = "application/problem+json"),
    )
)]
#[get("/readyz")]
async fn readyz(ctx: web::Data<Ctx>) -> Result<web::Json<Health>> {
    ctx.db.conn.execute_unprepared("SELECT 1").await?;
    let mut streams = 0;
    for waiting in &ctx.part::<Backlog>().0 {
        streams += waiting(&ctx).await?;
    }
    let streams_to_rebuild = Some(streams);
    Ok(web::Json(Health { status: "ready", streams_to_rebuild, clock_offset: ctx.clock.shift() }))
}

/// Its routes.
pub fn routes(cfg: &mut utoipa_actix_web::service_config::ServiceConfig) {
    cfg.service(healthz).service(readyz);
}
