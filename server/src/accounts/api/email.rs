//! The address of an account, a forgotten password, and signing up, over JSON.

use actix_web::{HttpRequest, HttpResponse, post, put, web};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Session, what};
use crate::accounts::actions::{self, NewEmail};
use crate::platform::web::no_content;
use crate::platform::{Ctx, FreshSession, Result, SignedIn, transport};

/// An address to take the place of another
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"email": "mira@example.org", "password": "moss on the window sill"}))]
struct AddressChange {
    /// Capitals don't count; empty for none. Two people may share one.
    email: String,
    /// The caller's
    password: String,
    /// Where there is a second factor: the code of the phone, or an unused recovery code
    #[serde(default)]
    code: Option<String>,
}

/// Set the caller's address, or take it away
///
/// It is good for nothing before the link in the letter that goes to it was used. Whoever has the address of before is
/// told there, if it was proven.
#[utoipa::path(
    tag = "accounts", operation_id = "set_email", security(("bearer" = [])), request_body = AddressChange,
    responses((status = 204, description = "Set; a letter is on its way")),
    extensions(("x-problems" = json!(["invalid", "sign-in-failed", "second-factor-needed", "code-wrong", "too-many-tries",
        "busy-now", "session-ended", "not-found"])))
)]
#[put("/account/email")]
pub async fn set_email(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    who: FreshSession,
    body: web::Json<AddressChange>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    let new = NewEmail { email: &body.email, password: &body.password, code: body.code.as_deref() };
    actions::set_email(&ctx, &who.0, address, new).await?;
    no_content()
}

/// Ask for the letter that proves the caller's address, once more
///
/// Few go out in a day, however often it is asked for.
#[utoipa::path(
    tag = "accounts", operation_id = "ask_for_proof", security(("bearer" = [])),
    responses((status = 204, description = "It is on its way, unless one went out lately")),
    extensions(("x-problems" = json!(["no-mail", "invalid", "not-found"])))
)]
#[post("/account/email/letter")]
pub async fn ask_for_proof(ctx: web::Data<Ctx>, who: SignedIn) -> Result<HttpResponse> {
    actions::ask_for_proof(&ctx, &who).await?;
    no_content()
}

/// What a link in a letter carries
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"token": "Zk3…"}))]
struct LinkToken {
    token: String,
}

/// Prove an address with the link of a letter
#[utoipa::path(
    tag = "accounts", operation_id = "prove_email", request_body = LinkToken,
    responses((status = 204, description = "Proven")),
    extensions(("x-problems" = json!(["link-over", "too-many-tries"])))
)]
#[post("/email-proofs")]
pub async fn prove_email(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    body: web::Json<LinkToken>,
) -> Result<HttpResponse> {
    actions::prove(&ctx, &body.token, transport::visitor_address(&req, &ctx.config)).await?;
    no_content()
}

/// Who forgot their password
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"who": "mira@example.org"}))]
struct Forgotten {
    /// A login name, or an address
    who: String,
}

/// Ask for a letter by which a forgotten password is reset
///
/// It goes to an address that is proven; one that several share gets one letter, with each login name and its link.
/// Answered alike whether or not anybody has the name or the address.
#[utoipa::path(
    tag = "accounts", operation_id = "ask_for_reset", request_body = Forgotten,
    responses((status = 202, description = "If there is somebody, a letter is on its way")),
    extensions(("x-problems" = json!(["no-mail", "too-many-tries"])))
)]
#[post("/password-resets")]
pub async fn ask_for_reset(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    body: web::Json<Forgotten>,
) -> Result<HttpResponse> {
    actions::ask_reset(&ctx, &body.who, transport::visitor_address(&req, &ctx.config)).await?;
    Ok(HttpResponse::Accepted().finish())
}

/// A password in the place of a forgotten one
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"token": "Zk3…", "new_password": "three buckets by the door"}))]
struct ResetPassword {
    token: String,
    new_password: String,
}

/// Reset a forgotten password with the link of a letter; all sessions end
///
/// A second factor stays in force: sign in with a code afterwards.
#[utoipa::path(
    tag = "accounts", operation_id = "reset_password", request_body = ResetPassword,
    responses((status = 204, description = "Reset")),
    extensions(("x-problems" = json!(["link-over", "password-weak", "too-many-tries", "busy-now"])))
)]
#[post("/password-resets/use")]
pub async fn reset_password(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    body: web::Json<ResetPassword>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    actions::reset_by_link(&ctx, &body.token, address, &body.new_password).await?;
    no_content()
}

/// Who wants an account
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"email": "jonas@example.org"}))]
struct AccountWanted {
    email: String,
}

/// Ask for an account without an invitation, where the operator lets people sign up
///
/// A link goes to the address; nothing is made before it comes back. Answered alike whether or not the address is known.
#[utoipa::path(
    tag = "accounts", operation_id = "ask_for_account", request_body = AccountWanted,
    responses((status = 202, description = "A letter is on its way")),
    extensions(("x-problems" = json!(["sign-up-closed", "no-mail", "invalid", "too-many-tries"])))
)]
#[post("/sign-ups")]
pub async fn ask_for_account(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    body: web::Json<AccountWanted>,
) -> Result<HttpResponse> {
    actions::ask_sign_up(&ctx, &body.email, transport::visitor_address(&req, &ctx.config)).await?;
    Ok(HttpResponse::Accepted().finish())
}

/// Who signs up
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"token": "Zk3…", "login_name": "jonas", "shown_name": "Jonas B.",
    "password": "three buckets by the door"}))]
struct NewPerson {
    token: String,
    /// 2 to 32 of a–z, digits, `-`, `_`, `.`; capitals don't count
    login_name: String,
    /// What others read
    shown_name: String,
    /// 15 signs or more
    password: String,
}

/// Make an account with the link of a letter, and sign it in
///
/// Its address is proven by that. It belongs to no club yet.
#[utoipa::path(
    tag = "accounts", operation_id = "sign_up", request_body = NewPerson,
    responses((status = 201, description = "The account, signed in", body = Session)),
    extensions(("x-problems" = json!(["sign-up-closed", "link-over", "login-name-taken", "password-weak", "invalid",
        "conflict", "too-many-tries", "busy-now"])))
)]
#[post("/sign-ups/use")]
pub async fn sign_up(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    body: web::Json<NewPerson>,
) -> Result<HttpResponse> {
    let wanted = actions::SignUp {
        token: &body.token,
        login_name: &body.login_name,
        shown_name: &body.shown_name,
        password: &body.password,
        address: transport::visitor_address(&req, &ctx.config),
        what: what(&req),
        browser: false,
    };
    Ok(HttpResponse::Created().json(Session::of(&ctx, actions::sign_up(&ctx, wanted).await?)?))
}
