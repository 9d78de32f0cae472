//! Clubs over JSON.

pub mod access;
mod audit;
mod factor;
mod invitations;
mod people;
mod rule;
mod young;

use actix_web::{HttpResponse, delete, get, post, put, web};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use tarn_domain::clubs::Role;
use tarn_domain::clubs::Rule;
use utoipa::ToSchema;
use uuid::Uuid;

use self::access::{Member, Secretary};
pub use self::audit::list_audit;
use self::rule::QuarantineRule;
use super::actions;
use super::store;
use crate::platform::errors::{INVALID, NOT_FOUND};
use crate::platform::web::no_content;
use crate::platform::{Ctx, Problem, Result, html};

pub use factor::require_factor;
pub use invitations::{accept, invite, join, list_invitations, take_back};
pub use people::{export, import, leave, list_people, put_person, strike_person};
pub use young::{no_longer_young, open_young};

fn role_of(word: &str) -> Result<Role> {
    word.parse().map_err(|why: String| Problem::new(&INVALID).detail(why.clone()).at("/role", why))
}

/// A club, as its members see it
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"id": "0192f3a4-0000-7000-8000-000000000003", "name": "Tidepool", "members": [
    {"account": "0192f3a4-0000-7000-8000-000000000001", "shown_name": "Mira K.", "roles": ["secretary"],
     "since": "2026-03-01T09:30:00Z"}], "rule": null, "second_factor_required": false}))]
struct Club {
    id: Uuid,
    name: String,
    members: Vec<ClubMember>,
    /// The quarantine rule in force; null while the club has adopted none
    rule: Option<ClubRule>,
    /// Whether the roles of officers count only with a second factor
    second_factor_required: bool,
}

/// Somebody who belongs to a club
#[derive(Serialize, ToSchema)]
struct ClubMember {
    account: Uuid,
    shown_name: String,
    /// Beside being a member
    roles: Vec<String>,
    since: String,
}

/// Show a club to its members
#[utoipa::path(
    tag = "clubs", operation_id = "get_club", security(("bearer" = [])),
    params(("club" = Uuid, Path, description = "Which club")),
    responses((status = 200, description = "The club", body = Club))
)]
#[get("/clubs/{club}")]
pub async fn club(ctx: web::Data<Ctx>, by: Member) -> Result<web::Json<Club>> {
    let conn = &ctx.db.conn;
    let club = store::club(conn, by.club).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let rule = store::rule_in_force(conn, club.id, ctx.clock.now_ms()).await?;
    let members =
        store::members(conn, club.id).await?.into_iter().map(|(account, roles, since_ms)| ClubMember {
            account: account.id,
            shown_name: account.shown_name,
            roles: roles.into_iter().filter(|role| role != Role::Member.as_str()).collect(),
            since: html::rfc3339(since_ms),
        });
    Ok(web::Json(Club {
        id: club.id,
        name: club.name,
        members: members.collect(),
        rule: rule.map(ClubRule::of),
        second_factor_required: club.officers_need_factor,
    }))
}

/// Give a member a role
#[utoipa::path(
    tag = "clubs", operation_id = "give_role", security(("bearer" = [])),
    params(("club" = Uuid, Path, description = "Which club"), ("account" = Uuid, Path, description = "Whom"),
        ("role" = String, Path, description = "Which role")),
    responses((status = 204, description = "Given")),
    extensions(("x-problems" = json!(["invalid", "role-missing", "second-factor-required", "session-ended", "guests-are-no-officers", "lapsed-are-no-officers",
        "by-guardian"])))
)]
#[put("/clubs/{club}/members/{account}/roles/{role}")]
pub async fn give_role(
    ctx: web::Data<Ctx>,
    by: Secretary,
    path: web::Path<(Uuid, Uuid, String)>,
) -> Result<HttpResponse> {
    let (_, account, role) = path.into_inner();
    actions::give_role(&ctx, &by.who.actor(), by.club, account, role_of(&role)?).await?;
    no_content()
}

/// Take a role away from a member
#[utoipa::path(
    tag = "clubs", operation_id = "take_role", security(("bearer" = [])),
    params(("club" = Uuid, Path, description = "Which club"), ("account" = Uuid, Path, description = "From whom"),
        ("role" = String, Path, description = "Which role")),
    responses((status = 204, description = "Taken")),
    extensions(("x-problems" = json!(["invalid", "role-missing", "second-factor-required", "session-ended", "last-secretary"])))
)]
#[delete("/clubs/{club}/members/{account}/roles/{role}")]
pub async fn take_role(
    ctx: web::Data<Ctx>,
    by: Secretary,
    path: web::Path<(Uuid, Uuid, String)>,
) -> Result<HttpResponse> {
    let (_, account, role) = path.into_inner();
    actions::take_role(&ctx, &by.who.actor(), by.club, account, role_of(&role)?).await?;
    no_content()
}

/// A quarantine rule to adopt
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"from": "2026-04-01T00:00:00Z"}))]
struct NewRule {
    /// In force from; now if it is left out or in the past
    from: Option<chrono::DateTime<chrono::Utc>>,
    /// All fields of the rule; the shipped one if it is left out
    #[schema(value_type = Option<QuarantineRule>)]
    rule: Option<Value>,
}

/// A version of a club's quarantine rule
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"version": 1, "from": "2026-04-01T00:00:00Z", "rule": {"min_days": 30, "observe_every_days": 7,
        "restart_on": ["sign", "unexplained_loss"], "treatment": "restart_at_end", "shared_water": "restart", "fry_days": 60,
        "fry_loss_percent": 20, "unopened_bag_returns": "quarantine", "late_after_hours": 72, "named_loss_percent": 20,
        "water_days": 7, "clear_role": "health_steward"}}))]
struct ClubRule {
    version: i32,
    from: String,
    /// All its fields; null where this version of the server can't read it
    #[schema(value_type = Option<QuarantineRule>, required)]
    rule: Value,
}

impl ClubRule {
    fn of(row: crate::entities::club_rules::Model) -> Self {
        let rule = serde_json::from_str(&row.rule).unwrap_or(Value::Null);
        Self { version: row.version, from: html::rfc3339(row.from_ms), rule }
    }
}

/// Adopt a quarantine rule for the club
///
/// A quarantine that runs keeps the version it was opened under.
#[utoipa::path(
    tag = "clubs", operation_id = "adopt_rule", security(("bearer" = [])), request_body = NewRule,
    params(("club" = Uuid, Path, description = "Which club")),
    responses((status = 201, description = "Adopted", body = ClubRule)),
    extensions(("x-problems" = json!(["invalid", "role-missing", "second-factor-required", "session-ended"])))
)]
#[post("/clubs/{club}/rule")]
pub async fn adopt_rule(
    ctx: web::Data<Ctx>,
    by: Secretary,
    body: web::Json<NewRule>,
) -> Result<HttpResponse> {
    let rule = body.rule.clone().map_or_else(|| Ok(Rule::shipped()), serde_json::from_value);
    let rule =
        rule.map_err(|err| Problem::new(&INVALID).detail(err.to_string()).at("/rule", err.to_string()))?;
    rule.check()
        .map_err(|err| Problem::new(&INVALID).detail(err.to_string()).at("/rule", err.to_string()))?;
    let from_ms = body.from.map(|from| from.timestamp_millis());
    let adopted = actions::adopt_rule(&ctx, &by.who.actor(), by.club, &rule, from_ms).await?;
    Ok(HttpResponse::Created().json(ClubRule::of(adopted)))
}
