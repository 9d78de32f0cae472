//! Who acts for a room's keepers, over JSON.

use actix_web::{HttpResponse, delete, get, post, put, web};
use serde::Serialize;
use tarn_domain::streams::{AccountId, StreamId};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::platform::auth::FreshSession;
use crate::platform::{Ctx, Result, SignedIn, html};
use crate::rooms::{actions, store};

/// Names a caretaker.
#[utoipa::path(
    tag = "rooms", operation_id = "name_caretaker", summary = "Name a caretaker",
    description = "Somebody with a login who acts for the keepers in illness or death; in the place of whoever was named \
        before. They keep nothing until they take over.",
    params(("room" = Uuid, Path, description = "The room"), ("login" = String, Path, description = "A login name")),
    responses((status = 204, description = "Named")), security(("bearer" = [])),
    extensions(("x-problems" = json!(["keeps-it-already", "by-guardian", "session-ended"])))
)]
#[put("/rooms/{room}/caretaker/{login}")]
pub async fn name_caretaker(
    FreshSession(who): FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<(Uuid, String)>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(who.account), StreamId(path.0));
    actions::caretaker::name(&ctx, &who.actor(), account, room, &path.1).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Names nobody.
#[utoipa::path(
    tag = "rooms", operation_id = "end_caretaker", summary = "Have no caretaker",
    description = "Who acts already keeps the room until a keeper ends that.",
    params(("room" = Uuid, Path, description = "The room")),
    responses((status = 204, description = "Nobody is named")), security(("bearer" = [])),
    extensions(("x-problems" = json!(["session-ended"])))
)]
#[delete("/rooms/{room}/caretaker")]
pub async fn end_caretaker(
    FreshSession(who): FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
) -> Result<HttpResponse> {
    actions::caretaker::end(&ctx, &who.actor(), AccountId(who.account), StreamId(*path)).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Rooms that the caller is caretaker of
#[derive(Serialize, ToSchema)]
pub struct Caretaking {
    rooms: Vec<RoomInCare>,
}

/// A room that the caller is caretaker of
#[derive(Serialize, ToSchema)]
pub struct RoomInCare {
    stream: Uuid,
    name: String,
    /// What is read of them
    keepers: Vec<String>,
    /// Since when the caller acts
    #[schema(required)]
    acting_since: Option<String>,
}

/// The rooms that the caller is caretaker of.
#[utoipa::path(
    tag = "rooms", operation_id = "list_caretaking", summary = "Rooms the caller is caretaker of",
    description = "With their keepers, and since when the caller acts.",
    responses((status = 200, description = "The rooms", body = Caretaking, example = json!({"rooms": [{
        "stream": "0190a1b2-0000-7000-8000-000000000001", "name": "Cellar room", "keepers": ["Ines Marlow"],
        "acting_since": null}]}))),
    security(("bearer" = []))
)]
#[get("/caretaking")]
pub async fn caretaking(who: SignedIn, ctx: web::Data<Ctx>) -> Result<web::Json<Caretaking>> {
    let mut all = Vec::new();
    for (room, row) in store::caretaking(&ctx.db.conn, AccountId(who.account)).await? {
        let keepers = store::keeper_names(&ctx.db.conn, StreamId(room.stream)).await?;
        let acting_since = row.acting_ms.map(html::rfc3339);
        all.push(RoomInCare { stream: room.stream, name: room.name, keepers, acting_since });
    }
    Ok(web::Json(Caretaking { rooms: all }))
}

/// The caretaker begins to act.
#[utoipa::path(
    tag = "rooms", operation_id = "take_over", summary = "Take a room over as its caretaker",
    description = "From now on the caller keeps it too. All keepers and the secretaries of its club are told.",
    params(("room" = Uuid, Path, description = "The room")),
    responses((status = 204, description = "The caller keeps it")), security(("bearer" = [])),
    extensions(("x-problems" = json!(["no-caretaker", "session-ended"])))
)]
#[post("/rooms/{room}/taking-over")]
pub async fn take_over(
    FreshSession(who): FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
) -> Result<HttpResponse> {
    actions::caretaker::take_over(&ctx, &who.actor(), AccountId(who.account), StreamId(*path)).await?;
    Ok(HttpResponse::NoContent().finish())
}
