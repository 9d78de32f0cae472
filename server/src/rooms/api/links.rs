//! Links to a room over JSON, for its keepers.

use std::collections::BTreeSet;

use actix_web::{HttpRequest, HttpResponse, delete, get, post, web};
use serde::{Deserialize, Serialize};
use tarn_domain::streams::{AccountId, LinkId, StreamId, TankId};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::entities::room_links;
use crate::platform::auth::{FreshSession, SignedIn};
use crate::platform::html::rfc3339;
use crate::platform::web::no_content;
use crate::platform::{Ctx, Result, transport};
use crate::rooms::actions::links::{self, Wanted};

/// Somebody who is to help in a room.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Tilda next door", "days": 14}))]
pub struct NewHelper {
    /// What the keeper calls them; stands beside what they write.
    name: String,
    /// For how many days the link is good, 1 to 60.
    days: i64,
    /// In which tanks; left out: in all of the room.
    #[serde(default)]
    tanks: Option<BTreeSet<Uuid>>,
}

/// A link to a room
#[derive(Serialize, ToSchema)]
pub struct Helper {
    /// The link's id; what is written with it has this as its `by`
    helper: Uuid,
    /// What the keeper calls them
    name: String,
    /// In which tanks; null: in all of the room
    #[schema(value_type = Option<Vec<Uuid>>, required)]
    tanks: Option<BTreeSet<TankId>>,
    made_at: String,
    until: String,
    #[schema(required)]
    ended_at: Option<String>,
    /// Whether it is good now
    good: bool,
    /// Told once, when it is made
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    address: Option<String>,
}

/// Every link to a room, the newest first
#[derive(Serialize, ToSchema)]
pub struct Helpers {
    helpers: Vec<Helper>,
}

fn told(link: room_links::Model, now_ms: i64, address: Option<String>) -> Helper {
    Helper {
        helper: link.id,
        tanks: links::tanks_of(&link),
        made_at: rfc3339(link.made_ms),
        until: rfc3339(link.until_ms),
        ended_at: link.ended_ms.map(rfc3339),
        good: links::is_good(&link, now_ms),
        name: link.name,
        address,
    }
}

/// The links to a room.
#[utoipa::path(
    tag = "rooms", operation_id = "list_helpers", summary = "Helpers of a room",
    description = "Every link to the room, the newest first, those that are over among them. An op that a helper wrote has the helper's id as its `by`. For the room's keepers.",
    params(("room" = Uuid, Path, description = "The room")),
    responses((status = 200, description = "The links", body = Helpers, example = json!({"helpers": [
        {"helper": "0190a1b2-0000-8000-8000-000000000009", "name": "Tilda next door", "tanks": null, "made_at": "2026-05-01T10:00:00Z",
         "until": "2026-05-15T10:00:00Z", "ended_at": null, "good": true}]}))),
    security(("bearer" = []))
)]
#[get("/rooms/{room}/helpers")]
pub async fn list_helpers(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
) -> Result<web::Json<Helpers>> {
    let all = links::list(&ctx, AccountId(who.account), StreamId(*path)).await?;
    let now = ctx.clock.now_ms();
    Ok(web::Json(Helpers { helpers: all.into_iter().map(|link| told(link, now, None)).collect() }))
}

/// Makes a link to a room.
#[utoipa::path(
    tag = "rooms", operation_id = "add_helper", summary = "Make a helper's link",
    description = "Whoever has the address sees the room's round and writes there what was fed, looked at, measured, done and seen, and losses; nothing else, and without an account. The address is told this once.",
    params(("room" = Uuid, Path, description = "The room")), request_body = NewHelper,
    responses((status = 201, description = "The link, and its address", body = Helper, example = json!({
        "helper": "0190a1b2-0000-8000-8000-000000000009", "name": "Tilda next door", "tanks": null, "made_at": "2026-05-01T10:00:00Z",
        "until": "2026-05-15T10:00:00Z", "ended_at": null, "good": true,
        "address": "https://tarn.example/helping/…"}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["session-ended", "invalid"])))
)]
#[post("/rooms/{room}/helpers")]
pub async fn add_helper(
    who: FreshSession,
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    path: web::Path<Uuid>,
    body: web::Json<NewHelper>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(who.0.account), StreamId(*path));
    let NewHelper { name, days, tanks } = &*body;
    let tanks = tanks.as_ref().map(|tanks| tanks.iter().map(|id| TankId(*id)).collect());
    let wanted = Wanted { name, days: *days, tanks };
    let made = links::add(&ctx, &who.0.actor(), account, room, wanted).await?;
    let address = format!("{}{}", transport::own_origin(&req, &ctx.config), made.path);
    let answer = told(made.link, ctx.clock.now_ms(), Some(address));
    Ok(HttpResponse::Created().insert_header(("Cache-Control", "no-store")).json(answer))
}

/// Ends a link to a room.
#[utoipa::path(
    tag = "rooms", operation_id = "end_helper", summary = "End a helper's link",
    description = "At once: a page that is open says so at the next press. What was written with it stands.",
    params(("room" = Uuid, Path, description = "The room"), ("helper" = Uuid, Path, description = "The link's id")),
    responses((status = 204, description = "It is good no more")), security(("bearer" = []))
)]
#[delete("/rooms/{room}/helpers/{helper}")]
pub async fn end_helper(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(who.account), StreamId(path.0));
    links::end(&ctx, &who.actor(), account, room, LinkId(path.1)).await?;
    no_content()
}
