//! The second factor that a club wants of its officers, over JSON.

use actix_web::{HttpResponse, put, web};
use serde::Deserialize;
use utoipa::ToSchema;

use super::access::Secretary;
use crate::clubs::actions;
use crate::platform::web::no_content;
use crate::platform::{Ctx, Result};

/// Whether officers need a second factor
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"required": true}))]
struct OfficersFactor {
    required: bool,
}

/// Say whether officers of the club need a second factor
///
/// Roles of officers without one don't count until it is set up. Whoever asks it of others has one.
#[utoipa::path(
    tag = "clubs", operation_id = "require_second_factor", security(("bearer" = [])), request_body = OfficersFactor,
    params(("club" = Uuid, Path, description = "Which club")),
    responses((status = 204, description = "Said")),
    extensions(("x-problems" = json!(["role-missing", "second-factor-required", "session-ended"])))
)]
#[put("/clubs/{club}/second-factor")]
pub async fn require_factor(
    ctx: web::Data<Ctx>,
    by: Secretary,
    body: web::Json<OfficersFactor>,
) -> Result<HttpResponse> {
    actions::require_factor(&ctx, &by.who, by.club, body.required).await?;
    no_content()
}
