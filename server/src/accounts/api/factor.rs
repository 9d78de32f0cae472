//! The second factor over JSON.

use actix_web::{HttpRequest, HttpResponse, get, post, web};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::accounts::actions::{self, Factor};
use crate::platform::web::no_content;
use crate::platform::{Ctx, FreshSession, Result, SignedIn, html, transport};

/// How the caller's second factor stands
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"on": true, "begun": false, "since": "2026-03-01T09:30:00Z", "recovery_codes_left": 10}))]
struct FactorStanding {
    /// Whether a code is asked for at sign-in
    on: bool,
    /// Whether a secret was told and waits for its first code
    begun: bool,
    since: Option<String>,
    recovery_codes_left: u64,
}

/// Tell whether the caller has a second factor
#[utoipa::path(
    tag = "accounts", operation_id = "get_second_factor", security(("bearer" = [])),
    responses((status = 200, description = "How it stands", body = FactorStanding))
)]
#[get("/account/second-factor")]
pub async fn get_factor(ctx: web::Data<Ctx>, who: SignedIn) -> Result<web::Json<FactorStanding>> {
    let factor = actions::factor(&ctx, &who).await?;
    let (since, recovery_codes_left) = match factor {
        Factor::On { since_ms, codes_left } => (Some(html::rfc3339(since_ms)), codes_left),
        Factor::Off | Factor::Begun => (None, 0),
    };
    Ok(web::Json(FactorStanding {
        on: since.is_some(),
        begun: factor == Factor::Begun,
        since,
        recovery_codes_left,
    }))
}

/// The caller's password, once more
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"password": "moss on the window sill"}))]
struct PasswordAgain {
    password: String,
}

/// What the codes are made from; it is not told again
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"secret": "GEZD GNBV GY3T QOJQ GEZD GNBV GY3T QOJQ",
    "uri": "otpauth://totp/Tarn:mira?secret=GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ&issuer=Tarn"}))]
struct NewSecret {
    /// Base32 (RFC 4648), in fours
    secret: String,
    /// The same for programs: codes by RFC 6238 with SHA-1, 30 seconds, six digits
    uri: String,
}

/// Begin a second factor: it counts once `POST /api/v1/account/second-factor/confirm` brings a first code
#[utoipa::path(
    tag = "accounts", operation_id = "begin_second_factor", security(("bearer" = [])), request_body = PasswordAgain,
    responses((status = 201, description = "The secret, told once", body = NewSecret)),
    extensions(("x-problems" = json!(["sign-in-failed", "too-many-tries", "busy-now", "second-factor-on", "session-ended", "not-found"])))
)]
#[post("/account/second-factor")]
pub async fn begin_factor(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    who: FreshSession,
    body: web::Json<PasswordAgain>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    let secret = actions::begin_factor(&ctx, &who.0, address, &body.password).await?;
    Ok(HttpResponse::Created().json(NewSecret { secret: secret.written, uri: secret.uri }))
}

/// A code of the second factor
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"code": "287082"}))]
struct FirstCode {
    code: String,
}

/// Recovery codes, each good once instead of a code; they are not told again
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"recovery_codes": ["ABCD-EFGH-IJKL-MNOP", "QRST-UVWX-YZ23-4567"]}))]
struct RecoveryCodes {
    recovery_codes: Vec<String>,
}

/// Confirm the second factor with a first code; all other sessions end
#[utoipa::path(
    tag = "accounts", operation_id = "confirm_second_factor", security(("bearer" = [])), request_body = FirstCode,
    responses((status = 200, description = "It is on; the recovery codes", body = RecoveryCodes)),
    extensions(("x-problems" = json!(["code-wrong", "too-many-tries", "busy-now", "second-factor-on", "no-second-factor",
        "session-ended", "not-found"])))
)]
#[post("/account/second-factor/confirm")]
pub async fn confirm_factor(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    who: FreshSession,
    body: web::Json<FirstCode>,
) -> Result<web::Json<RecoveryCodes>> {
    let address = transport::visitor_address(&req, &ctx.config);
    let recovery_codes = actions::confirm_factor(&ctx, &who.0, address, &body.code).await?;
    Ok(web::Json(RecoveryCodes { recovery_codes }))
}

/// The caller's password and a code
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"password": "moss on the window sill", "code": "287082"}))]
struct PasswordAndCode {
    password: String,
    /// Of the phone, or an unused recovery code
    code: String,
}

/// Make a new set of recovery codes; those of before are good no more
#[utoipa::path(
    tag = "accounts", operation_id = "renew_recovery_codes", security(("bearer" = [])), request_body = PasswordAndCode,
    responses((status = 200, description = "The new set, told once", body = RecoveryCodes)),
    extensions(("x-problems" = json!(["sign-in-failed", "code-wrong", "too-many-tries", "busy-now", "no-second-factor",
        "session-ended", "not-found"])))
)]
#[post("/account/second-factor/recovery-codes")]
pub async fn renew_codes(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    who: FreshSession,
    body: web::Json<PasswordAndCode>,
) -> Result<web::Json<RecoveryCodes>> {
    let address = transport::visitor_address(&req, &ctx.config);
    let both = (body.password.as_str(), body.code.as_str());
    Ok(web::Json(RecoveryCodes { recovery_codes: actions::renew_codes(&ctx, &who.0, address, both).await? }))
}

/// Take the second factor away; all other sessions end
///
/// A password of fewer than 15 signs has to be changed first.
#[utoipa::path(
    tag = "accounts", operation_id = "end_second_factor", security(("bearer" = [])), request_body = PasswordAndCode,
    responses((status = 204, description = "Taken away")),
    extensions(("x-problems" = json!(["sign-in-failed", "code-wrong", "too-many-tries", "busy-now", "no-second-factor",
        "password-weak", "session-ended", "not-found"])))
)]
#[post("/account/second-factor/end")]
pub async fn end_factor(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    who: FreshSession,
    body: web::Json<PasswordAndCode>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    actions::end_factor(&ctx, &who.0, address, (&body.password, &body.code)).await?;
    no_content()
}
