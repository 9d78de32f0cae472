//! `/healthz`: the process lives. `/readyz`: it can do its work.
//!
//! Asked by whatever watches the server, so nothing here needs a login or tells anything about people.

use actix_web::{get, web};
use sea_orm::ConnectionTrait;
use serde::Serialize;
use utoipa::ToSchema;

use super::ctx::Ctx;
use super::errors::Result;

/// How the server is.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"status": "ready"}))]
pub struct Health {
    /// `alive` or `ready`
    status: &'static str,
    /// How far its clock is shifted; only while it is
    #[serde(skip_serializing_if = "Option::is_none")]
    clock_offset: Option<String>,
}

/// Says that the process lives
#[utoipa::path(tag = "platform", responses((status = 200, description = "It lives", body = Health)))]
#[get("/healthz")]
async fn healthz() -> web::Json<Health> {
    web::Json(Health { status: "alive", clock_offset: None })
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
    Ok(web::Json(Health { status: "ready", clock_offset: ctx.clock.shift() }))
}

/// Its routes.
pub fn routes(cfg: &mut utoipa_actix_web::service_config::ServiceConfig) {
    cfg.service(healthz).service(readyz);
}
