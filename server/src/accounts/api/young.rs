//! Members under age over JSON, for their guardian.

use actix_web::{HttpRequest, HttpResponse, get, post, put, web};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::data::OwnData;
use crate::accounts::actions::{self, Shown};
use crate::platform::web::no_content;
use crate::platform::{Ctx, FreshSession, Result, SignedIn, html, transport};

/// Somebody under age for whom the caller answers
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"account": "0192f3a4-0000-7000-8000-000000000001", "login_name": "finn", "name": "Finn K.",
    "since": "2026-03-01T09:30:00Z", "sessions": [{"what": "tarn 0.1.0", "started_at": "2026-03-01T09:30:00Z",
    "last_seen_at": "2026-03-02T07:00:00Z"}]}))]
struct Young {
    account: Uuid,
    login_name: String,
    /// Others read “a young member” in its place
    name: String,
    since: String,
    sessions: Vec<YoungSession>,
}

/// Where somebody under age is signed in
#[derive(Serialize, ToSchema)]
struct YoungSession {
    /// What signed in
    what: String,
    started_at: String,
    last_seen_at: String,
}

/// List those under age for whom the caller answers
#[utoipa::path(
    tag = "accounts", operation_id = "list_young", security(("bearer" = [])),
    responses((status = 200, description = "By name", body = Vec<Young>))
)]
#[get("/account/young")]
pub async fn list_young(ctx: web::Data<Ctx>, who: SignedIn) -> Result<web::Json<Vec<Young>>> {
    let all = actions::wards(&ctx, who.account).await?.into_iter().map(|ward| Young {
        account: ward.account.id,
        login_name: ward.account.login_name,
        name: ward.young.name,
        since: html::rfc3339(ward.young.since_ms),
        sessions: ward
            .sessions
            .into_iter()
            .map(|row| YoungSession {
                what: row.what,
                started_at: html::rfc3339(row.started_ms),
                last_seen_at: html::rfc3339(row.last_seen_ms),
            })
            .collect(),
    });
    Ok(web::Json(all.collect()))
}

/// End every session of somebody under age
#[utoipa::path(
    tag = "accounts", operation_id = "end_sessions_of_young", security(("bearer" = [])),
    params(("account" = Uuid, Path, description = "Whose")),
    responses((status = 204, description = "Ended")),
    extensions(("x-problems" = json!(["session-ended"])))
)]
#[post("/account/young/{account}/sessions/end")]
pub async fn end_sessions_of_young(
    ctx: web::Data<Ctx>,
    who: FreshSession,
    account: web::Path<Uuid>,
) -> Result<HttpResponse> {
    actions::end_sessions_of_young(&ctx, &who.0, *account).await?;
    no_content()
}

/// The caller's password, and one for somebody under age
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"password": "moss on the window sill", "new_password": "four snails on a stone"}))]
struct PasswordOfYoung {
    /// The caller's own
    password: String,
    /// The caller's code, where they have a second factor
    code: Option<String>,
    /// Of the young one
    new_password: String,
}

/// Give somebody under age another password; all their sessions end
#[utoipa::path(
    tag = "accounts", operation_id = "set_password_of_young", security(("bearer" = [])), request_body = PasswordOfYoung,
    params(("account" = Uuid, Path, description = "Whose")),
    responses((status = 204, description = "Changed")),
    extensions(("x-problems" = json!(["sign-in-failed", "second-factor-needed", "code-wrong", "password-weak", "too-many-tries", "busy-now", "session-ended"])))
)]
#[put("/account/young/{account}/password")]
pub async fn set_password_of_young(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    who: FreshSession,
    account: web::Path<Uuid>,
    body: web::Json<PasswordOfYoung>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    let own = Shown { password: &body.password, code: body.code.as_deref() };
    actions::new_password_of_young(&ctx, &who.0, address, *account, (own, &body.new_password)).await?;
    no_content()
}

/// Hand over everything that is kept of somebody under age
#[utoipa::path(
    tag = "accounts", operation_id = "get_data_of_young", security(("bearer" = [])),
    params(("account" = Uuid, Path, description = "Whose")),
    responses((status = 200, description = "By area", body = OwnData)),
    extensions(("x-problems" = json!(["session-ended"])))
)]
#[get("/account/young/{account}/data")]
pub async fn data_of_young(
    ctx: web::Data<Ctx>,
    who: FreshSession,
    account: web::Path<Uuid>,
) -> Result<web::Json<serde_json::Value>> {
    Ok(web::Json(actions::data_of_young(&ctx, who.0.account, *account).await?))
}

/// The guardian's password, once more
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"password": "moss on the window sill"}))]
struct GuardianAgain {
    password: String,
    /// The code, where they have a second factor
    code: Option<String>,
}

/// Close the account of somebody under age for good
///
/// As when they leave the server themselves; the caller shows their own password.
#[utoipa::path(
    tag = "accounts", operation_id = "close_young", security(("bearer" = [])), request_body = GuardianAgain,
    params(("account" = Uuid, Path, description = "Whose")),
    responses((status = 204, description = "Closed")),
    extensions(("x-problems" = json!(["sign-in-failed", "second-factor-needed", "code-wrong", "too-many-tries", "busy-now", "last-secretary",
        "parcels-on-their-way", "answers-for-young", "session-ended"])))
)]
#[post("/account/young/{account}/leaving")]
pub async fn close_young(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    who: FreshSession,
    account: web::Path<Uuid>,
    body: web::Json<GuardianAgain>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    let own = Shown { password: &body.password, code: body.code.as_deref() };
    actions::close_young(&ctx, &who.0, address, *account, own).await?;
    no_content()
}

/// Say that somebody is of age
///
/// They get their name back and stand for themselves; the caller answers for them no longer.
#[utoipa::path(
    tag = "accounts", operation_id = "of_age", security(("bearer" = [])),
    params(("account" = Uuid, Path, description = "Who")),
    responses((status = 204, description = "They are")),
    extensions(("x-problems" = json!(["session-ended"])))
)]
#[post("/account/young/{account}/of-age")]
pub async fn of_age(
    ctx: web::Data<Ctx>,
    who: FreshSession,
    account: web::Path<Uuid>,
) -> Result<HttpResponse> {
    actions::of_age(&ctx, &who.0, *account).await?;
    no_content()
}
