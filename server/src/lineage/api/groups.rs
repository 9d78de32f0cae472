//! Line groups over JSON.

use actix_web::{HttpResponse, delete, get, post, put, web};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use tarn_domain::rooms::Sex;
use tarn_domain::streams::AccountId;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::lineage::actions::groups::{self, Group};
use crate::lineage::actions::line::{Kept, KeptBrood};
use crate::platform::auth::SignedIn;
use crate::platform::{Ctx, Result, web::no_content};

/// A line group
#[derive(Serialize, ToSchema)]
pub struct LineGroup {
    id: Uuid,
    species: String,
    line: String,
    /// `member`, or `invited` for who has not agreed
    state: &'static str,
    /// Who asked the caller in
    #[schema(required)]
    invited_by: Option<String>,
    /// What is read of those who have joined
    members: Vec<String>,
    /// Who keeps which broods of the line; only where one group is read
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    kept: Option<Vec<KeptTogether>>,
}

/// The caller's line groups
#[derive(Serialize, ToSchema)]
pub struct LineGroups {
    groups: Vec<LineGroup>,
}

/// The broods of a line that somebody keeps
#[derive(Serialize, ToSchema)]
pub struct KeptTogether {
    /// Several where they keep a room together
    who: Vec<String>,
    broods: Vec<BroodOfLine>,
}

/// A brood of a line, and how many of it live
#[derive(Serialize, ToSchema)]
pub struct BroodOfLine {
    code: String,
    /// Year and month, `2026-05`
    #[schema(required)]
    month: Option<String>,
    /// Colour or fin form
    #[schema(required)]
    form: Option<String>,
    males: i64,
    females: i64,
    unsexed: i64,
    eggs: i64,
    /// Below 0 where fish are gone of which nobody said the sex
    of_any_sex: i64,
    /// The day on which all its stocks had been counted
    #[schema(required)]
    last_counted: Option<NaiveDate>,
}

fn told(group: Group) -> LineGroup {
    LineGroup {
        id: group.row.id,
        species: group.row.species,
        line: group.row.line,
        state: if group.joined { "member" } else { "invited" },
        invited_by: group.asked_by,
        members: group.members,
        kept: None,
    }
}

fn kept(kept: &Kept) -> KeptTogether {
    KeptTogether { who: kept.who.clone(), broods: kept.broods.iter().map(brood).collect() }
}

fn brood(brood: &KeptBrood) -> BroodOfLine {
    BroodOfLine {
        code: brood.code.clone(),
        month: brood.month.clone(),
        form: brood.form.clone(),
        males: brood.of_sex(Sex::Male),
        females: brood.of_sex(Sex::Female),
        unsexed: brood.of_sex(Sex::Unsexed),
        eggs: brood.of_sex(Sex::Eggs),
        of_any_sex: brood.of_sex(Sex::Any),
        last_counted: brood.counted,
    }
}

/// The caller's groups.
#[utoipa::path(
    tag = "lineage", operation_id = "list_line_groups", summary = "The caller's line groups",
    description = "Those the caller is in (`member`), and those they were asked into (`invited`), by species and line.",
    responses((status = 200, description = "The groups", body = LineGroups, example = json!({"groups": [{
        "id": "0190a1b2-0000-7000-8000-00000000001a", "species": "Poecilia wingei", "line": "Campo", "state": "member",
        "invited_by": null, "members": ["Ines Marlow", "Jonas Ebert"]}]}))),
    security(("bearer" = []))
)]
#[get("/line-groups")]
pub async fn show_all(who: SignedIn, ctx: web::Data<Ctx>) -> Result<web::Json<LineGroups>> {
    let groups = groups::groups(&ctx, AccountId(who.account)).await?;
    Ok(web::Json(LineGroups { groups: groups.into_iter().map(told).collect() }))
}

/// A line group to begin.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0190a1b2-0000-7000-8000-00000000001a", "species": "Poecilia wingei", "line": "Campo"}))]
pub struct NewGroup {
    /// Made by the client.
    id: Uuid,
    /// The species, as the broods have it.
    species: String,
    /// The line, as the broods have it.
    line: String,
}

/// Begins one.
#[utoipa::path(
    tag = "lineage", operation_id = "start_line_group", summary = "Begin a line group",
    description = "The caller is its first member. The same id by one of its members again changes nothing. A brood \
        belongs to the line if its species and line are these, whatever the capitals.",
    request_body = NewGroup,
    responses((status = 201, description = "The group", body = LineGroup, example = json!({
        "id": "0190a1b2-0000-7000-8000-00000000001a", "species": "Poecilia wingei", "line": "Campo", "state": "member",
        "invited_by": null, "members": ["Ines Marlow"], "kept": []}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["invalid", "group-taken"])))
)]
#[post("/line-groups")]
pub async fn start(who: SignedIn, ctx: web::Data<Ctx>, body: web::Json<NewGroup>) -> Result<HttpResponse> {
    let account = AccountId(who.account);
    groups::start(&ctx, &who.actor(), account, body.id, (&body.species, &body.line)).await?;
    Ok(HttpResponse::Created().json(in_full(&ctx, account, body.id).await?))
}

async fn in_full(ctx: &Ctx, account: AccountId, id: Uuid) -> Result<LineGroup> {
    let (group, all) = groups::group(ctx, account, id).await?;
    Ok(LineGroup { kept: Some(all.iter().map(kept).collect()), ..told(group) })
}

/// One group.
#[utoipa::path(
    tag = "lineage", operation_id = "read_line_group", summary = "One line group",
    description = "For its members: who keeps which broods of the line, how many of each live, and on which day all of \
        them had last been counted. Nothing else of their rooms. Whoever was asked and has not agreed sees no broods.",
    params(("group" = Uuid, Path, description = "The group")),
    responses((status = 200, description = "The group", body = LineGroup, example = json!({
        "id": "0190a1b2-0000-7000-8000-00000000001a", "species": "Poecilia wingei", "line": "Campo", "state": "member",
        "invited_by": null, "members": ["Ines Marlow"], "kept": [{"who": ["Ines Marlow"], "broods": [{
            "code": "PW-26-01", "month": "2026-05", "form": null, "males": 6, "females": 9, "unsexed": 0, "eggs": 0,
            "of_any_sex": 0, "last_counted": "2026-05-02"}]}]}))),
    security(("bearer" = []))
)]
#[get("/line-groups/{group}")]
pub async fn show(who: SignedIn, ctx: web::Data<Ctx>, path: web::Path<Uuid>) -> Result<web::Json<LineGroup>> {
    Ok(web::Json(in_full(&ctx, AccountId(who.account), *path).await?))
}

/// Whom to ask in.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"login": "jonas"}))]
pub struct Asked {
    /// Their login name.
    login: String,
}

/// Asks somebody in.
#[utoipa::path(
    tag = "lineage", operation_id = "invite_into_line_group", summary = "Ask a keeper into a line group",
    description = "By a member. The other is told on their page, agrees or not, and sees no brood before. Asking twice \
        is asking once.",
    request_body = Asked, params(("group" = Uuid, Path, description = "The group")),
    responses((status = 204, description = "Asked")), security(("bearer" = [])),
    extensions(("x-problems" = json!(["too-many-today"])))
)]
#[post("/line-groups/{group}/invitations")]
pub async fn invite(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<Asked>,
) -> Result<HttpResponse> {
    groups::invite(&ctx, &who.actor(), AccountId(who.account), *path, &body.login).await?;
    no_content()
}

/// Joins.
#[utoipa::path(
    tag = "lineage", operation_id = "join_line_group", summary = "Join a line group one was asked into",
    description = "From now on its members see the caller's broods of this line, as the caller sees theirs.",
    params(("group" = Uuid, Path, description = "The group")),
    responses((status = 204, description = "Joined")), security(("bearer" = []))
)]
#[put("/line-groups/{group}/membership")]
pub async fn join(who: SignedIn, ctx: web::Data<Ctx>, path: web::Path<Uuid>) -> Result<HttpResponse> {
    groups::join(&ctx, &who.actor(), AccountId(who.account), *path).await?;
    no_content()
}

/// Leaves.
#[utoipa::path(
    tag = "lineage", operation_id = "leave_line_group", summary = "Leave a line group, or say no",
    description = "At any time. With its last member the group ends.",
    params(("group" = Uuid, Path, description = "The group")),
    responses((status = 204, description = "Left")), security(("bearer" = []))
)]
#[delete("/line-groups/{group}/membership")]
pub async fn leave(who: SignedIn, ctx: web::Data<Ctx>, path: web::Path<Uuid>) -> Result<HttpResponse> {
    groups::leave(&ctx, &who.actor(), AccountId(who.account), *path).await?;
    no_content()
}
