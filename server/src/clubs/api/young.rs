//! Members under age over JSON.

use actix_web::{HttpResponse, post, web};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::access::{Member, Secretary};
use crate::clubs::actions::{self, NewYoung};
use crate::platform::web::no_content;
use crate::platform::{Ctx, FreshSession, Result};

/// Somebody under age in the caller's care
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"login_name": "finn", "name": "Finn K.", "password": "four snails on a stone", "agreed": true}))]
struct YoungMember {
    /// 2 to 32 of a–z, digits, `-`, `_`, `.`; better not the name, since keepers read it on parcels
    login_name: String,
    /// Read by the caller and the club's officers only; others read “a young member”
    name: String,
    /// 15 signs or more
    password: String,
    /// That the caller answers for them and agrees
    agreed: bool,
}

/// The account that was made
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"account": "0192f3a4-0000-7000-8000-000000000001", "login_name": "finn"}))]
struct YoungMade {
    account: Uuid,
    login_name: String,
}

/// Make the account of somebody under age, who is a member of the club too
///
/// The caller is their guardian: replies to their notices go to the guardian, and what they are told, the guardian is told
/// too. They name no price, write to nobody and hold no office.
#[utoipa::path(
    tag = "clubs", operation_id = "open_young", security(("bearer" = [])), request_body = YoungMember,
    params(("club" = Uuid, Path, description = "Which club")),
    responses((status = 201, description = "Made", body = YoungMade)),
    extensions(("x-problems" = json!(["invalid", "by-guardian", "guests-answer-for-nobody", "too-many-young", "login-name-taken", "password-weak", "conflict", "busy-now",
        "session-ended"])))
)]
#[post("/clubs/{club}/young")]
pub async fn open_young(
    ctx: web::Data<Ctx>,
    by: Member,
    _fresh: FreshSession,
    body: web::Json<YoungMember>,
) -> Result<HttpResponse> {
    let wanted = NewYoung {
        login_name: &body.login_name,
        name: &body.name,
        password: &body.password,
        agreed: body.agreed,
    };
    let made = actions::open_young(&ctx, &by.who, by.club, wanted).await?;
    Ok(HttpResponse::Created().json(YoungMade { account: made.id, login_name: made.login_name }))
}

/// Say, as an officer, that a member is of age
#[utoipa::path(
    tag = "clubs", operation_id = "no_longer_young", security(("bearer" = [])),
    params(("club" = Uuid, Path, description = "Which club"), ("account" = Uuid, Path, description = "Who")),
    responses((status = 204, description = "They are")),
    extensions(("x-problems" = json!(["role-missing", "second-factor-required", "session-ended"])))
)]
#[post("/clubs/{club}/members/{account}/of-age")]
pub async fn no_longer_young(
    ctx: web::Data<Ctx>,
    by: Secretary,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse> {
    actions::no_longer_young(&ctx, &by.who, by.club, path.1).await?;
    no_content()
}
