//! Rooms over JSON.

pub mod fish;
pub mod links;
pub mod people;
pub mod probes;
pub mod water;
pub mod waters;

use actix_web::{HttpResponse, delete, get, post, put, web};
use serde::{Deserialize, Serialize};
use tarn_domain::streams::{AccountId, StreamId};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{actions, store};
use crate::entities::rooms;
use crate::platform::auth::{FreshSession, SignedIn};
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result};

/// A new room.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0190a1b2-0000-7000-8000-000000000001", "name": "Cellar room", "zone": "Europe/Oslo"}))]
pub struct NewRoom {
    /// Made by the client; the room's stream has the same.
    id: Uuid,
    /// What it is called.
    name: String,
    /// Its IANA time zone.
    zone: String,
}

/// A room
#[derive(Serialize, ToSchema)]
pub struct Room {
    /// Its id, and that of its stream
    stream: Uuid,
    name: String,
    /// Its IANA time zone
    zone: String,
    #[schema(required)]
    home_club: Option<Uuid>,
    /// What is read of its keepers; only where one room is read
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    keepers: Option<Vec<String>>,
}

/// The caller's rooms, by name
#[derive(Serialize, ToSchema)]
pub struct Rooms {
    rooms: Vec<Room>,
}

impl From<rooms::Model> for Room {
    fn from(room: rooms::Model) -> Self {
        Self {
            stream: room.stream,
            name: room.name,
            zone: room.zone,
            home_club: room.home_club,
            keepers: None,
        }
    }
}

/// Makes a room.
#[utoipa::path(
    tag = "rooms", operation_id = "make_room", summary = "Make a room",
    description = "The caller is its keeper. The same id by its keeper again changes nothing.",
    request_body = NewRoom,
    responses((status = 201, description = "The room", body = Room, example = json!({
        "stream": "0190a1b2-0000-7000-8000-000000000001", "name": "Cellar room", "zone": "Europe/Oslo", "home_club": null}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["room-taken", "stream-gone", "invalid"])))
)]
#[post("/rooms")]
pub async fn create(who: SignedIn, ctx: web::Data<Ctx>, body: web::Json<NewRoom>) -> Result<HttpResponse> {
    let id = StreamId(body.id);
    actions::create(&ctx, &who.actor(), AccountId(who.account), id, &body.name, &body.zone).await?;
    let room = store::room(&ctx.db.conn, id).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    Ok(HttpResponse::Created().json(Room::from(room)))
}

/// The caller's rooms.
#[utoipa::path(
    tag = "rooms", operation_id = "list_rooms", summary = "The caller's rooms", description = "Every room the caller keeps, by name.",
    responses((status = 200, description = "The rooms", body = Rooms, example = json!({"rooms": []}))),
    security(("bearer" = []))
)]
#[get("/rooms")]
pub async fn list(who: SignedIn, ctx: web::Data<Ctx>) -> Result<web::Json<Rooms>> {
    let rooms = store::rooms_of(&ctx.db.conn, AccountId(who.account)).await?;
    Ok(web::Json(Rooms { rooms: rooms.into_iter().map(Room::from).collect() }))
}

/// One room.
#[utoipa::path(
    tag = "rooms", operation_id = "read_room", summary = "One room", description = "Its name, zone, home club and keepers; for its keepers.",
    params(("room" = Uuid, Path, description = "The room")),
    responses((status = 200, description = "The room", body = Room, example = json!({
        "stream": "0190a1b2-0000-7000-8000-000000000001", "name": "Cellar room", "zone": "UTC", "home_club": null,
        "keepers": ["Ines Marlow"]}))),
    security(("bearer" = []))
)]
#[get("/rooms/{room}")]
pub async fn show(who: SignedIn, ctx: web::Data<Ctx>, path: web::Path<Uuid>) -> Result<web::Json<Room>> {
    let id = StreamId(*path);
    let nothing = || Problem::new(&NOT_FOUND);
    if !store::is_keeper(&ctx.db.conn, id, AccountId(who.account)).await? {
        return Err(nothing());
    }
    let room = store::room(&ctx.db.conn, id).await?.ok_or_else(nothing)?;
    let keepers = store::keeper_names(&ctx.db.conn, id).await?;
    Ok(web::Json(Room { keepers: Some(keepers), ..room.into() }))
}

/// Adds a keeper.
#[utoipa::path(
    tag = "rooms", operation_id = "add_keeper", summary = "Add a keeper", description = "Somebody of one of the caller's clubs keeps the room too, by their login name.",
    params(("room" = Uuid, Path, description = "The room"), ("login" = String, Path, description = "A login name")),
    responses((status = 204, description = "They keep it too")), security(("bearer" = [])),
    extensions(("x-problems" = json!(["by-guardian", "session-ended"])))
)]
#[put("/rooms/{room}/keepers/{login}")]
pub async fn add_keeper(
    FreshSession(who): FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<(Uuid, String)>,
) -> Result<HttpResponse> {
    actions::add_keeper(&ctx, &who.actor(), AccountId(who.account), StreamId(path.0), &path.1).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Ends a keeper's part.
#[utoipa::path(
    tag = "rooms", operation_id = "end_keeper", summary = "End a keeper's part", description = "They stay on record as a party to what they wrote.",
    params(("room" = Uuid, Path, description = "The room"), ("login" = String, Path, description = "A login name")),
    responses((status = 204, description = "They keep it no longer")), security(("bearer" = [])),
    extensions(("x-problems" = json!(["last-keeper", "session-ended"])))
)]
#[delete("/rooms/{room}/keepers/{login}")]
pub async fn remove_keeper(
    FreshSession(who): FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<(Uuid, String)>,
) -> Result<HttpResponse> {
    actions::end_keeper(&ctx, &who.actor(), AccountId(who.account), StreamId(path.0), &path.1).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// The name of a room that is given up.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Cellar room"}))]
pub struct GivenUp {
    /// The room's name, as it stands.
    name: String,
}

/// Gives a room up.
#[utoipa::path(
    tag = "rooms", operation_id = "give_up_room", summary = "Give a room up for good",
    description = "By its only keeper: every record of it is taken out of the server. Fish that went to others keep their \
        lineage. Its devices are told `stream-gone`. Export it before.",
    params(("room" = Uuid, Path, description = "The room")), request_body = GivenUp,
    responses((status = 204, description = "It is gone")), security(("bearer" = [])),
    extensions(("x-problems" = json!(["other-keepers", "not-its-name", "parcels-on-their-way", "session-ended"])))
)]
#[post("/rooms/{room}/giving-up")]
pub async fn give_up(
    FreshSession(who): FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<GivenUp>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(who.account), StreamId(*path));
    actions::give_up(&ctx, &who.actor(), account, room, &body.name).await?;
    Ok(HttpResponse::NoContent().finish())
}
