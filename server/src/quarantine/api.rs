//! Quarantine over JSON.

use actix_web::{get, post, put, web};
use serde::Deserialize;
use serde_json::{Value, json};
use tarn_domain::quarantine::{Seen, SharedWater};
use tarn_domain::state::view;
use tarn_domain::streams::{AccountId, ClubId, OpId, StreamId, UnitId};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::actions::{self, Looked, RoomUnits, Signature};
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
    responses((status = 200, description = "The units, by room", body = Value, example = json!({"rooms": []}))),
    security(("bearer" = []))
)]
#[get("/quarantine/units")]
pub async fn units(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    query: web::Query<UnitsQuery>,
) -> Result<web::Json<Value>> {
    let rooms = actions::desk(&ctx, AccountId(who.account), query.room.map(StreamId)).await?;
    let told: Vec<Value> = rooms.iter().map(|(room, looked)| told(room, *looked)).collect();
    Ok(web::Json(json!({"rooms": told})))
}

fn told(room: &RoomUnits, looked: Looked) -> Value {
    let states = view(room.held.memory.states());
    let each: Vec<Value> = room
        .units
        .iter()
        .zip(&room.clubs)
        .map(|(unit, clubs)| {
            let members: Vec<Value> = unit
                .members
                .iter()
                .map(|m| {
                    let stock = states.stocks.get(&m.stock);
                    let tank = stock.and_then(|s| s.place()).flatten().and_then(|t| states.tanks.get(&t));
                    json!({
                        "stock": m.stock, "name": stock.and_then(|s| s.name.clone()),
                        "species": stock.and_then(|s| s.species.clone()), "total": stock.map(|s| s.total()),
                        "tank": tank.and_then(|t| t.name.clone()), "since": m.since, "start": m.start,
                    })
                })
                .collect();
            let way = if unit.shared_water == SharedWater::Restart { "restart" } else { "wait_for_last" };
            json!({
                "unit": unit.id, "state": unit.state.word(), "start": unit.start, "due": unit.due,
                "days": unit.days, "days_done": unit.done, "shared_water": way, "clubs": clubs, "members": members,
            })
        })
        .collect();
    let as_what = if looked == Looked::Keeper { "keeper" } else { "steward" };
    json!({"room": room.room, "name": room.name, "head": room.head, "as": as_what, "units": each})
}

/// A signature.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0190a1b2-0000-7000-8000-00000000000c", "room": "0190a1b2-0000-7000-8000-000000000001",
    "head": 42, "seen": "visit", "remark": null}))]
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
}

/// Signs a unit off.
#[utoipa::path(
    tag = "quarantine", operation_id = "sign_off", summary = "Sign a unit off",
    description = "By a health steward of the room's club who is no party: keeps nothing there, gave none of the fish, \
        wrote no entry of the unit. Of the whole unit, when its days are done. Not a health certificate.",
    params(("unit" = Uuid, Path, description = "The unit")), request_body = NewSignature,
    responses((status = 200, description = "Cleared", body = Value, example = json!({"head": 43, "held_days": 31,
        "words": "Held 31 days, no signs recorded, cleared by a club steward on 7 May 2026. Not a health certificate."}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["quarantine-not-due", "sign-off-by-party",
        "not-a-steward", "changed-since", "session-ended", "invalid"])))
)]
#[post("/quarantine/units/{unit}/sign-off")]
pub async fn sign_off(
    who: FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<NewSignature>,
) -> Result<web::Json<Value>> {
    let body = body.into_inner();
    let ask = Signature {
        id: OpId(body.id),
        room: StreamId(body.room),
        unit: UnitId(*path),
        head: body.head,
        seen: body.seen,
        remark: body.remark,
    };
    let done = actions::sign_off(&ctx, &who, &ask).await?;
    let words = actions::signed(&ctx, AccountId(who.0.account), ask.room, ask.unit).await?.words;
    Ok(web::Json(json!({"head": done.head, "held_days": done.held, "words": words})))
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
    responses((status = 200, description = "It holds", body = Value, example = json!({"head": 44}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["not-a-member"])))
)]
#[put("/rooms/{room}/home-club")]
pub async fn home_club(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<NewHomeClub>,
) -> Result<web::Json<Value>> {
    let (room, club) = (StreamId(*path), body.club.map(ClubId));
    let head = actions::set_home_club(&ctx, &who.actor(), AccountId(who.account), room, club).await?;
    Ok(web::Json(json!({"head": head})))
}
