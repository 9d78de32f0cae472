//! Accounts over JSON.

mod data;
mod devices;
mod email;
mod factor;
mod messages;
mod telling;
mod young;

use actix_web::http::header::{CACHE_CONTROL, USER_AGENT};
use actix_web::{HttpRequest, HttpResponse, delete, get, post, put, web};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

pub use devices::{end_device, list_devices};
pub use email::{
    ask_for_account, ask_for_proof, ask_for_reset, prove_email, reset_password, set_email, sign_up,
};
pub use factor::{begin_factor, confirm_factor, end_factor, get_factor, renew_codes};
pub use messages::{list_messages, read_message};
pub use telling::{end_calendar, get_telling, make_calendar, set_digest};
pub use young::{
    close_young, data_of_young, end_sessions_of_young, list_young, of_age, set_password_of_young,
};

use super::actions::{self, NewPassword, Opened, SignIn};
use super::store;
use crate::platform::errors::{FAILED, NOT_FOUND};
use crate::platform::tokens::GOOD_FOR_S;
use crate::platform::web::no_content;
use crate::platform::{Ctx, FreshSession, Problem, Result, SignedIn, html, transport};

/// Who wants to sign in
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"login_name": "mira", "password": "moss on the window sill"}))]
struct Credentials {
    /// Capitals don't count
    login_name: String,
    password: String,
    /// Where there is a second factor: the code of the phone, or an unused recovery code
    #[serde(default)]
    code: Option<String>,
}

/// A session: what to send with requests, and what renews it
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"access_token": "eyJ…", "refresh_token": "Zk3…", "expires_in": 600,
    "account": {"id": "0192f3a4-0000-7000-8000-000000000001", "login_name": "mira", "shown_name": "Mira K."}}))]
pub struct Session {
    /// For the header `Authorization: Bearer`
    access_token: String,
    /// Good once; `POST /api/v1/sessions/refresh` gives the next
    refresh_token: String,
    /// Seconds until the access token runs out
    expires_in: i64,
    account: Whose,
}

/// An account, as its owner sees it
#[derive(Serialize, ToSchema)]
struct Whose {
    id: Uuid,
    login_name: String,
    shown_name: String,
}

impl Session {
    /// What a session that was just opened is to its owner.
    pub fn of(ctx: &Ctx, opened: Opened) -> Result<Self> {
        let now = ctx.clock.now_ms();
        let made = ctx.tokens.make(opened.account.id, opened.session, ctx.ids.random_id(), now);
        Ok(Self {
            access_token: made.map_err(|err| Problem::failed("signing", err))?,
            refresh_token: opened.refresh_token.ok_or_else(|| Problem::new(&FAILED))?,
            expires_in: GOOD_FOR_S,
            account: Whose {
                id: opened.account.id,
                login_name: opened.account.login_name,
                shown_name: opened.account.shown_name,
            },
        })
    }
}

/// What the caller says it is.
pub fn what(req: &HttpRequest) -> &str {
    req.headers().get(USER_AGENT).and_then(|v| v.to_str().ok()).unwrap_or("")
}

/// Sign in
#[utoipa::path(
    tag = "accounts", operation_id = "sign_in", request_body = Credentials,
    responses((status = 200, description = "Signed in", body = Session)),
    extensions(("x-problems" = json!(["sign-in-failed", "second-factor-needed", "code-wrong", "too-many-tries", "busy-now"])))
)]
#[post("/sessions")]
pub async fn sign_in(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    body: web::Json<Credentials>,
) -> Result<web::Json<Session>> {
    let wanted = SignIn {
        login_name: &body.login_name,
        password: &body.password,
        code: body.code.as_deref(),
        address: transport::visitor_address(&req, &ctx.config),
        what: what(&req),
    };
    Ok(web::Json(Session::of(&ctx, actions::sign_in(&ctx, wanted).await?)?))
}

/// What renews a session
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"refresh_token": "Zk3…"}))]
struct Renewal {
    refresh_token: String,
}

/// Renew a session: each refresh token is good once
///
/// If the answer is lost, the same token is good for another minute, as long as the newer one was not used. A token
/// that is used again later ends the session.
#[utoipa::path(
    tag = "accounts", operation_id = "renew_session", request_body = Renewal,
    responses((status = 200, description = "Renewed", body = Session)),
    extensions(("x-problems" = json!(["session-ended"])))
)]
#[post("/sessions/refresh")]
pub async fn renew(ctx: web::Data<Ctx>, body: web::Json<Renewal>) -> Result<web::Json<Session>> {
    Ok(web::Json(Session::of(&ctx, actions::renew(&ctx, &body.refresh_token).await?)?))
}

/// End the session that this call is made in
#[utoipa::path(
    tag = "accounts", operation_id = "sign_out", security(("bearer" = [])),
    responses((status = 204, description = "Ended")),
    extensions(("x-problems" = json!(["not-found"])))
)]
#[delete("/sessions/current")]
pub async fn sign_out(ctx: web::Data<Ctx>, who: SignedIn) -> Result<HttpResponse> {
    actions::end_session(&ctx, &who.actor(), who.session).await?;
    no_content()
}

/// End all of the caller's sessions but this one
#[utoipa::path(
    tag = "accounts", operation_id = "end_other_sessions", security(("bearer" = [])),
    responses((status = 204, description = "Ended")),
    extensions(("x-problems" = json!(["session-ended"])))
)]
#[delete("/sessions/others")]
pub async fn end_other_sessions(ctx: web::Data<Ctx>, who: FreshSession) -> Result<HttpResponse> {
    actions::end_other_sessions(&ctx, &who.0).await?;
    no_content()
}

/// A session of the caller
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"id": "0192f3a4-0000-7000-8000-000000000002", "what": "tarn 0.1.0", "current": true,
    "started_at": "2026-03-01T09:30:00Z", "last_seen_at": "2026-03-02T07:00:00Z"}))]
struct OwnSession {
    id: Uuid,
    /// What signed in
    what: String,
    /// Whether it is the one of this call
    current: bool,
    started_at: String,
    last_seen_at: String,
}

/// List the caller's sessions
#[utoipa::path(
    tag = "accounts", operation_id = "list_sessions", security(("bearer" = [])),
    responses((status = 200, description = "Those that were not ended, the newest first", body = Vec<OwnSession>))
)]
#[get("/sessions")]
pub async fn sessions(ctx: web::Data<Ctx>, who: SignedIn) -> Result<web::Json<Vec<OwnSession>>> {
    let rows = store::sessions_of(&ctx.db.conn, who.account).await?;
    let own = |row: crate::entities::sessions::Model| OwnSession {
        id: row.id,
        what: row.what,
        current: row.id == who.session,
        started_at: html::rfc3339(row.started_ms),
        last_seen_at: html::rfc3339(row.last_seen_ms),
    };
    Ok(web::Json(rows.into_iter().map(own).collect()))
}

/// End one of the caller's sessions
#[utoipa::path(
    tag = "accounts", operation_id = "end_session", security(("bearer" = [])),
    params(("session" = Uuid, Path, description = "Which one")),
    responses((status = 204, description = "Ended"))
)]
#[delete("/sessions/{session}")]
pub async fn end_session(
    ctx: web::Data<Ctx>,
    who: SignedIn,
    session: web::Path<Uuid>,
) -> Result<HttpResponse> {
    actions::end_session(&ctx, &who.actor(), *session).await?;
    no_content()
}

/// The caller: account, clubs, rooms
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"id": "0192f3a4-0000-7000-8000-000000000001", "login_name": "mira", "shown_name": "Mira K.",
    "email": "mira@example.org", "email_proven": true,
    "clubs": [{"id": "0192f3a4-0000-7000-8000-000000000003", "name": "Tidepool", "roles": ["secretary"],
    "waiting_roles": []}],
    "rooms": [{"id": "0192f3a4-0000-7000-8000-000000000004", "name": "Cellar", "zone": "Europe/Berlin",
    "home_club": "0192f3a4-0000-7000-8000-000000000003"}]}))]
struct OwnAccount {
    id: Uuid,
    login_name: String,
    shown_name: String,
    /// Empty if none was given
    email: String,
    /// Whether a link in a letter has shown that it is the caller's; nothing else is sent to it before
    email_proven: bool,
    clubs: Vec<OwnClub>,
    rooms: Vec<OwnRoom>,
}

/// A club of the caller
#[derive(Serialize, ToSchema)]
struct OwnClub {
    id: Uuid,
    name: String,
    roles: Vec<String>,
    /// Roles that count once the caller has a second factor, since the club wants one of its officers
    waiting_roles: Vec<String>,
}

/// A room of the caller; its id is also its stream's
#[derive(Serialize, ToSchema)]
struct OwnRoom {
    id: Uuid,
    name: String,
    /// The keeper's time zone
    zone: String,
    home_club: Option<Uuid>,
}

/// Tell who the caller is: account, clubs with roles, rooms
#[utoipa::path(
    tag = "accounts", operation_id = "get_account", security(("bearer" = [])),
    responses((status = 200, description = "The caller", body = OwnAccount)),
    extensions(("x-problems" = json!(["not-found"])))
)]
#[get("/account")]
pub async fn account(ctx: web::Data<Ctx>, who: SignedIn) -> Result<web::Json<OwnAccount>> {
    let conn = &ctx.db.conn;
    let account = store::account(conn, who.account).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let has_factor = store::has_factor(conn, who.account).await?;
    let clubs = store::memberships_of(conn, who.account, has_factor).await?.into_iter();
    let rooms = store::rooms_of(conn, who.account).await?.into_iter();
    Ok(web::Json(OwnAccount {
        email_proven: store::is_proven(conn, &account).await?,
        id: account.id,
        login_name: account.login_name,
        shown_name: account.shown_name,
        email: account.email,
        clubs: clubs
            .map(|of| OwnClub {
                roles: of.counting().to_vec(),
                waiting_roles: if of.waits { of.roles } else { Vec::new() },
                id: of.club.id,
                name: of.club.name,
            })
            .collect(),
        rooms: rooms
            .map(|r| OwnRoom { id: r.stream, name: r.name, zone: r.zone, home_club: r.home_club })
            .collect(),
    }))
}

/// An old password and a new one
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"old_password": "moss on the window sill", "new_password": "three buckets by the door"}))]
struct PasswordChange {
    old_password: String,
    new_password: String,
    /// Where there is a second factor: the code of the phone, or an unused recovery code
    #[serde(default)]
    code: Option<String>,
}

/// Change the caller's password; all other sessions end
#[utoipa::path(
    tag = "accounts", operation_id = "change_password", security(("bearer" = [])), request_body = PasswordChange,
    responses((status = 204, description = "Changed")),
    extensions(("x-problems" = json!(["sign-in-failed", "second-factor-needed", "code-wrong", "too-many-tries", "busy-now",
        "password-weak", "session-ended", "not-found"])))
)]
#[put("/account/password")]
pub async fn change_password(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    who: FreshSession,
    body: web::Json<PasswordChange>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    let new = NewPassword { old: &body.old_password, new: &body.new_password, code: body.code.as_deref() };
    actions::change_password(&ctx, &who.0, address, new).await?;
    no_content()
}

/// Hand over everything that is kept of the caller
///
/// All but the records of the caller's rooms, which are read with `GET /api/v1/streams/{stream}/export`.
#[utoipa::path(
    tag = "accounts", operation_id = "get_own_data", security(("bearer" = [])),
    responses((status = 200, description = "By area", body = data::OwnData)),
    extensions(("x-problems" = json!(["not-found"])))
)]
#[get("/account/data")]
pub async fn own_data(ctx: web::Data<Ctx>, who: FreshSession) -> Result<web::Json<serde_json::Value>> {
    Ok(web::Json(actions::own_data(&ctx, who.0.account).await?))
}

/// The password, once more
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"password": "moss on the window sill"}))]
struct Leaving {
    password: String,
    /// The code, where there is a second factor
    code: Option<String>,
}

/// Leave this server for good
///
/// The login, names, address and messages go at once, and every room that nobody else keeps. Fish that others have keep
/// their lineage. Nothing of it can be brought back.
#[utoipa::path(
    tag = "accounts", operation_id = "leave_server", security(("bearer" = [])), request_body = Leaving,
    responses((status = 204, description = "Left")),
    extensions(("x-problems" = json!(["sign-in-failed", "second-factor-needed", "code-wrong", "too-many-tries", "busy-now", "last-secretary", "parcels-on-their-way",
        "answers-for-young", "session-ended", "not-found"])))
)]
#[post("/account/leaving")]
pub async fn leave_server(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    who: FreshSession,
    body: web::Json<Leaving>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    let own = actions::Shown { password: &body.password, code: body.code.as_deref() };
    actions::leave_server(&ctx, &who.0, address, own).await?;
    no_content()
}

/// Publish the keys that access tokens are signed with (RFC 7517)
#[utoipa::path(
    tag = "accounts", operation_id = "get_keys",
    responses((status = 200, description = "A JWK set", body = data::KeySet,
        example = json!({"keys": [{"kty": "OKP", "crv": "Ed25519", "use": "sig", "alg": "EdDSA", "kid": "b3…", "x": "11q…"}]})))
)]
#[get("/.well-known/jwks.json")]
pub async fn keys(ctx: web::Data<Ctx>) -> HttpResponse {
    // the same for everybody
    HttpResponse::Ok().insert_header((CACHE_CONTROL, "public, max-age=600")).json(ctx.tokens.published())
}
