//! Quarantine over JSON.

mod unit;

use actix_web::{get, post, put, web};
use serde::{Deserialize, Serialize};
use tarn_domain::quarantine::Seen;
use tarn_domain::streams::{AccountId, ClubId, Days, OpId, StreamId, UnitId};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use self::unit::{Units, UnitsOfRoom};
use super::actions::{self, Judgement, Letting, Passed, Signature};
use crate::platform::auth::{FreshSession, SignedIn};
use crate::platform::{Ctx, Result};

/// Which rooms.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct UnitsQuery {
    /// Only this room.
    room: Option<Uuid>,
}

/// The units.
#[utoipa::path(
    tag = "quarantine", operation_id = "list_units", summary = "Units in quarantine",
    description = "Of the rooms the caller keeps, and for a health steward of all rooms of the club. A unit is all \
        stocks that share a water; it is cleared as a whole.",
    params(UnitsQuery),
    responses((status = 200, description = "The units, by room", body = Units, example = json!({"rooms": [{
        "room": "0190a1b2-0000-7000-8000-000000000001", "name": "Cellar room", "head": 42, "as": "keeper", "units": [{
            "unit": "0190a1b2-0000-5000-8000-000000000007", "state": "running", "start": "2026-04-06T18:00:00Z",
            "due": "2026-05-06T18:00:00Z", "days": 30, "days_done": 12, "shared_water": "restart",
            "clubs": ["0190a1b2-0000-7000-8000-00000000000d"], "members": [{
                "stock": "0190a1b2-0000-7000-8000-00000000000e", "name": null, "species": "Danio rerio", "total": 6,
                "tank": "Q1", "since": "2026-04-06T18:00:00Z", "start": "2026-04-06T18:00:00Z", "cause": "introduced"}],
            "blockers": [{"key": "recorded-late/0190a1b2-0000-7000-8000-00000000000f", "blocker": "recorded-late",
                "entry": "0190a1b2-0000-7000-8000-00000000000f", "stock": null}],
            "runs": [{"start": "2026-04-06T18:00:00Z", "why": "arrived"}]}]}]}))),
    security(("bearer" = []))
)]
#[get("/quarantine/units")]
pub async fn units(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    query: web::Query<UnitsQuery>,
) -> Result<web::Json<Units>> {
    let rooms = actions::desk(&ctx, AccountId(who.account), query.room.map(StreamId)).await?;
    let rooms = rooms.iter().map(|(room, looked)| UnitsOfRoom::of(room, *looked)).collect();
    Ok(web::Json(Units { rooms }))
}

/// A signature.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0190a1b2-0000-7000-8000-00000000000c", "room": "0190a1b2-0000-7000-8000-000000000001",
    "head": 42, "seen": "visit", "remark": null,
    "waivers": [{"key": "recorded-late/0190a1b2-0000-7000-8000-00000000000f", "why": "The keeper was away; I asked."}]}))]
pub struct NewSignature {
    /// Made by the caller; the same again is done already.
    id: Uuid,
    /// The room.
    room: Uuid,
    /// The head of the room's stream that the caller read.
    head: u64,
    /// How the fish were seen: `visit`, `video`, `pictures` or `keepers_word`.
    #[schema(value_type = String)]
    seen: Seen,
    /// A remark.
    remark: Option<String>,
    /// What is let pass with it.
    #[serde(default)]
    waivers: Vec<NewWaiver>,
}

/// Something that a steward lets pass.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewWaiver {
    /// The blocker's `key`, as the list of units tells it.
    key: String,
    /// Why it does not matter.
    why: String,
}

fn passed(waivers: Vec<NewWaiver>) -> Vec<Passed> {
    waivers.into_iter().map(|waiver| Passed { key: waiver.key, why: waiver.why }).collect()
}

/// What a sign-off says
#[derive(Serialize, ToSchema)]
pub struct SignedOff {
    /// The decision's number in the room's stream
    head: u64,
    #[schema(value_type = u16)]
    held_days: Days,
    /// In plain words
    words: String,
}

/// What a decision is numbered in the room's stream
#[derive(Serialize, ToSchema)]
pub struct Decided {
    head: u64,
}

/// Signs a unit off.
#[utoipa::path(
    tag = "quarantine", operation_id = "sign_off", summary = "Sign a unit off",
    description = "By a health steward of the room's club who is no party: keeps nothing there, gave none of the fish, \
        wrote no entry of the unit. Of the whole unit, when its days are done. Not a health certificate.",
    params(("unit" = Uuid, Path, description = "The unit")), request_body = NewSignature,
    responses((status = 200, description = "Cleared", body = SignedOff, example = json!({"head": 43, "held_days": 31,
        "words": "Held 31 days, no signs recorded, cleared by a club steward on 7 May 2026. Not a health certificate."}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["quarantine-not-due", "sign-off-by-party",
        "not-a-steward", "changed-since", "quarantine-blocked", "session-ended", "invalid"])))
)]
#[post("/quarantine/units/{unit}/sign-off")]
pub async fn sign_off(
    who: FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<NewSignature>,
) -> Result<web::Json<SignedOff>> {
    let body = body.into_inner();
    let ask = Signature {
        id: OpId(body.id),
        room: StreamId(body.room),
        unit: UnitId(*path),
        head: body.head,
        seen: body.seen,
        remark: body.remark,
        passed: passed(body.waivers),
    };
    let done = actions::sign_off(&ctx, &who, &ask).await?;
    let words = actions::signed(&ctx, AccountId(who.0.account), ask.room, ask.unit).await?.words;
    Ok(web::Json(SignedOff { head: done.head, held_days: done.held, words }))
}

/// What a steward lets pass.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0190a1b2-0000-7000-8000-00000000000c", "room": "0190a1b2-0000-7000-8000-000000000001",
    "waivers": [{"key": "recorded-late/0190a1b2-0000-7000-8000-00000000000f", "why": "The keeper was away; I asked."}]}))]
pub struct NewLetting {
    /// Made by the caller; the same again is done already.
    id: Uuid,
    /// The room.
    room: Uuid,
    /// What, and why.
    waivers: Vec<NewWaiver>,
}

/// Lets things pass that are in the way of a sign-off.
#[utoipa::path(
    tag = "quarantine", operation_id = "let_pass", summary = "Let pass what is in the way of a sign-off",
    description = "By a health steward who may sign the unit off, before the signature. In writing, each with a reason.",
    params(("unit" = Uuid, Path, description = "The unit")), request_body = NewLetting,
    responses((status = 200, description = "It stands", body = Decided, example = json!({"head": 43}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["sign-off-by-party", "not-a-steward", "session-ended",
        "invalid"])))
)]
#[post("/quarantine/units/{unit}/waivers")]
pub async fn let_pass(
    who: FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<NewLetting>,
) -> Result<web::Json<Decided>> {
    let body = body.into_inner();
    let (room, unit) = (StreamId(body.room), UnitId(*path));
    let ask = Letting { id: OpId(body.id), room, unit, passed: passed(body.waivers) };
    let head = actions::waive(&ctx, &who, &ask).await?;
    Ok(web::Json(Decided { head }))
}

/// A loss that is not explained.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0190a1b2-0000-7000-8000-00000000000c", "room": "0190a1b2-0000-7000-8000-000000000001",
    "entry": "0190a1b2-0000-7000-8000-00000000000f", "why": "Six jumped in one night from a covered tank."}))]
pub struct NewJudgement {
    /// Made by the caller; the same again is done already.
    id: Uuid,
    /// The room.
    room: Uuid,
    /// The entry of the loss.
    entry: Uuid,
    /// Why.
    why: String,
}

/// Holds a loss under a named cause for one that is not explained.
#[utoipa::path(
    tag = "quarantine", operation_id = "judge_loss", summary = "Hold a named loss for unexplained",
    description = "By a health steward who may sign the unit off. The days begin again from the loss, if the rule says so.",
    params(("unit" = Uuid, Path, description = "The unit")), request_body = NewJudgement,
    responses((status = 200, description = "It stands", body = Decided, example = json!({"head": 43}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["sign-off-by-party", "not-a-steward", "session-ended",
        "invalid"])))
)]
#[post("/quarantine/units/{unit}/losses")]
pub async fn judge_loss(
    who: FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<NewJudgement>,
) -> Result<web::Json<Decided>> {
    let body = body.into_inner();
    let (id, entry) = (OpId(body.id), OpId(body.entry));
    let ask = Judgement { id, room: StreamId(body.room), unit: UnitId(*path), entry, why: body.why };
    let head = actions::judge(&ctx, &who, &ask).await?;
    Ok(web::Json(Decided { head }))
}

/// A home club.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"club": "0190a1b2-0000-7000-8000-00000000000d"}))]
pub struct NewHomeClub {
    /// The club; null: none.
    club: Option<Uuid>,
}

/// Names the home club.
#[utoipa::path(
    tag = "quarantine", operation_id = "name_home_club", summary = "Name a room's home club",
    description = "From now on its quarantine rule holds in the room. The decision and the rule go into the room's stream.",
    params(("room" = Uuid, Path, description = "The room")), request_body = NewHomeClub,
    responses((status = 200, description = "It holds", body = Decided, example = json!({"head": 44}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["not-a-member"])))
)]
#[put("/rooms/{room}/home-club")]
pub async fn home_club(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<NewHomeClub>,
) -> Result<web::Json<Decided>> {
    let (room, club) = (StreamId(*path), body.club.map(ClubId));
    let head = actions::set_home_club(&ctx, &who.actor(), AccountId(who.account), room, club).await?;
    Ok(web::Json(Decided { head }))
}
