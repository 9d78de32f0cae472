//! Invitations over JSON.

use actix_web::{HttpRequest, HttpResponse, delete, get, post, web};
use serde::{Deserialize, Serialize};
use tarn_domain::clubs::Role;
use utoipa::ToSchema;
use uuid::Uuid;

use super::access::Secretary;
use super::role_of;
use crate::accounts::{Session, what};
use crate::clubs::actions::{self, Accept, Guest};
use crate::platform::web::no_content;
use crate::platform::{Ctx, FreshSession, Result, html};

/// Whom to invite, as what
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"email": "jonas@example.org", "role": "health_steward"}))]
struct Invitation {
    /// Where the invited person gets mail: the link goes there if this server sends mail
    email: Option<String>,
    /// A role beside being a member: `health_steward`, `librarian`, `booking_clerk`, `recorder`, `treasurer`,
    /// `secretary`
    role: Option<String>,
    /// Whose line of the member list it is for, if they stand there; their address is used if none is given
    person: Option<Uuid>,
}

/// An invitation; the token is shown this once
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"id": "0192f3a4-0000-7000-8000-000000000007", "token": "Zk3…", "expires_at": "2026-03-15T09:30:00Z",
    "mailed": true}))]
struct Invited {
    /// What it is called in the list of open ones
    id: Uuid,
    token: String,
    expires_at: String,
    /// Whether the link goes out by mail
    mailed: bool,
}

/// Invite somebody into the club
#[utoipa::path(
    tag = "clubs", operation_id = "invite", security(("bearer" = [])), request_body = Invitation,
    params(("club" = Uuid, Path, description = "Which club")),
    responses((status = 201, description = "Invited", body = Invited)),
    extensions(("x-problems" = json!(["invalid", "role-missing", "second-factor-required", "session-ended", "has-a-login", "not-found"])))
)]
#[post("/clubs/{club}/invitations")]
pub async fn invite(ctx: web::Data<Ctx>, by: Secretary, body: web::Json<Invitation>) -> Result<HttpResponse> {
    let role = body.role.as_deref().map_or(Ok(Role::Member), role_of)?;
    let guest = Guest { email: body.email.as_deref(), role, person: body.person };
    let invited = actions::invite(&ctx, &by.who.actor(), by.club, guest).await?;
    Ok(HttpResponse::Created().json(Invited {
        id: invited.id,
        token: invited.token,
        expires_at: html::rfc3339(invited.expires_ms),
        mailed: invited.mailed,
    }))
}

/// An invitation that nobody has used yet
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"id": "0192f3a4-0000-7000-8000-000000000007", "email": "jonas@example.org", "role": "health_steward",
    "person": null, "made_at": "2026-03-01T09:30:00Z", "expires_at": "2026-03-15T09:30:00Z"}))]
struct Open {
    /// Null for one that was made before invitations were listed
    id: Option<Uuid>,
    email: Option<String>,
    /// Beside being a member
    role: Option<String>,
    /// Whose line of the member list it is for
    person: Option<Uuid>,
    made_at: String,
    expires_at: String,
}

/// List the club's invitations that are still open
///
/// Their tokens are told once, when they are made, and kept nowhere.
#[utoipa::path(
    tag = "clubs", operation_id = "list_invitations", security(("bearer" = [])),
    params(("club" = Uuid, Path, description = "Which club")),
    responses((status = 200, description = "The newest first", body = Vec<Open>)),
    extensions(("x-problems" = json!(["role-missing", "second-factor-required", "session-ended"])))
)]
#[get("/clubs/{club}/invitations")]
pub async fn list_invitations(ctx: web::Data<Ctx>, by: Secretary) -> Result<web::Json<Vec<Open>>> {
    let open = actions::open_invitations(&ctx, by.club).await?.into_iter().map(|row| Open {
        id: row.id,
        email: row.email,
        role: row.role.filter(|role| role != Role::Member.as_str()),
        person: row.person,
        made_at: html::rfc3339(row.made_ms),
        expires_at: html::rfc3339(row.expires_ms),
    });
    Ok(web::Json(open.collect()))
}

/// Take an invitation back: its link is good no longer
#[utoipa::path(
    tag = "clubs", operation_id = "take_back_invitation", security(("bearer" = [])),
    params(("club" = Uuid, Path, description = "Which club"), ("invitation" = Uuid, Path, description = "Which one")),
    responses((status = 204, description = "Taken back")),
    extensions(("x-problems" = json!(["role-missing", "second-factor-required", "session-ended"])))
)]
#[delete("/clubs/{club}/invitations/{invitation}")]
pub async fn take_back(
    ctx: web::Data<Ctx>,
    by: Secretary,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse> {
    actions::take_back(&ctx, &by.who.actor(), by.club, path.1).await?;
    no_content()
}

/// Who accepts an invitation
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"token": "Zk3…", "login_name": "jonas", "email": "jonas@example.org", "shown_name": "Jonas B.",
    "password": "three buckets by the door"}))]
struct NewMember {
    token: String,
    /// 2 to 32 of a–z, digits, `-`, `_`, `.`; capitals don't count
    login_name: String,
    /// Not required
    #[serde(default)]
    email: String,
    /// What others read
    shown_name: String,
    /// 15 signs or more
    password: String,
}

/// Accept an invitation: makes the account, and signs it in
#[utoipa::path(
    tag = "clubs", operation_id = "accept_invitation", request_body = NewMember,
    responses((status = 201, description = "The account, signed in", body = Session)),
    extensions(("x-problems" = json!(["invitation-unknown", "login-name-taken", "password-weak", "invalid", "conflict",
        "busy-now"])))
)]
#[post("/invitations/accept")]
pub async fn accept(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    body: web::Json<NewMember>,
) -> Result<HttpResponse> {
    let wanted = Accept {
        token: &body.token,
        login_name: &body.login_name,
        email: &body.email,
        shown_name: &body.shown_name,
        password: &body.password,
        what: what(&req),
        browser: false,
    };
    Ok(HttpResponse::Created().json(Session::of(&ctx, actions::accept(&ctx, wanted).await?)?))
}

/// An invitation for somebody who has an account
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"token": "Zk3…"}))]
struct Token {
    token: String,
}

/// The club that was joined
#[derive(Serialize, ToSchema)]
struct Joined {
    /// Null: the invitation was for one who becomes an officer of no club
    #[schema(required)]
    club: Option<Uuid>,
}

/// Join one more club with the caller's account, by an invitation
#[utoipa::path(
    tag = "clubs", operation_id = "join_club", security(("bearer" = [])), request_body = Token,
    responses((status = 200, description = "Joined", body = Joined, example = json!({"club": "0192f3a4-0000-7000-8000-000000000003"}))),
    extensions(("x-problems" = json!(["invitation-unknown", "by-guardian", "guests-are-no-officers", "lapsed-are-no-officers", "session-ended", "not-found"])))
)]
#[post("/invitations/join")]
pub async fn join(
    ctx: web::Data<Ctx>,
    FreshSession(who): FreshSession,
    body: web::Json<Token>,
) -> Result<web::Json<Joined>> {
    let club = actions::join(&ctx, &who.actor(), who.account, &body.token).await?;
    Ok(web::Json(Joined { club }))
}
