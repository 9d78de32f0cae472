//! How a club keeps its notice board, over JSON.

use actix_web::{HttpResponse, get, put, web};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::clubs::api::access::{Member, Secretary};
use crate::parcels::actions::notices;
use crate::platform::web::no_content;
use crate::platform::{Ctx, Result};

/// How a club keeps its notice board
#[derive(Deserialize, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"notice_days": 60}))]
pub struct Board {
    /// How many days a notice stands, 1 to 365; then its author can put it up again
    notice_days: i32,
}

/// Read how a club keeps its notice board
#[utoipa::path(
    tag = "parcels", operation_id = "get_board", security(("bearer" = [])),
    params(("club" = Uuid, Path, description = "Which club")),
    responses((status = 200, description = "The board", body = Board))
)]
#[get("/clubs/{club}/board")]
pub async fn show(ctx: web::Data<Ctx>, by: Member) -> Result<web::Json<Board>> {
    Ok(web::Json(Board { notice_days: notices::notice_days(&ctx, by.club).await? }))
}

/// Set how many days a notice stands
///
/// For notices that are put up from now on.
#[utoipa::path(
    tag = "parcels", operation_id = "set_board", security(("bearer" = [])), request_body = Board,
    params(("club" = Uuid, Path, description = "Which club")),
    responses((status = 204, description = "Set")),
    extensions(("x-problems" = json!(["invalid", "role-missing", "second-factor-required", "session-ended"])))
)]
#[put("/clubs/{club}/board")]
pub async fn set(ctx: web::Data<Ctx>, by: Secretary, body: web::Json<Board>) -> Result<HttpResponse> {
    notices::set_notice_days(&ctx, &by.who, by.club, body.notice_days).await?;
    no_content()
}
