//! How somebody is told, over JSON: digest and calendar.

use actix_web::{HttpRequest, HttpResponse, delete, get, post, put, web};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::accounts::actions::{self, Digest};
use crate::platform::web::no_content;
use crate::platform::{Ctx, FreshSession, Result, SignedIn, html, transport};

/// How the caller is told
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"digest": "on", "digest_at": "2026-05-26T05:00:00Z", "zone": "Europe/Berlin", "has_mail": true,
    "calendar_since": "2026-05-01T10:00:00Z"}))]
struct Telling {
    /// `off`, `asked` (a letter asks whether the address is right) or `on`
    digest: &'static str,
    /// When the next one is made, if there is something to tell
    digest_at: Option<String>,
    /// By whose morning it is made: that of the caller's first room
    zone: String,
    /// Whether this server sends mail
    has_mail: bool,
    /// Since when the calendar has its present address; null without one
    calendar_since: Option<String>,
}

/// Tell how the caller is told
#[utoipa::path(
    tag = "accounts", operation_id = "get_telling", security(("bearer" = [])),
    responses((status = 200, description = "Digest and calendar", body = Telling)),
    extensions(("x-problems" = json!(["not-found"])))
)]
#[get("/account/telling")]
pub async fn get_telling(ctx: web::Data<Ctx>, who: SignedIn) -> Result<web::Json<Telling>> {
    let told = actions::telling(&ctx, who.account).await?;
    let (digest, at) = match told.digest {
        Digest::Off => ("off", None),
        Digest::Asked => ("asked", None),
        Digest::On(at) => ("on", Some(at)),
    };
    Ok(web::Json(Telling {
        digest,
        digest_at: at.map(html::rfc3339),
        zone: told.zone,
        has_mail: told.has_mail,
        calendar_since: told.calendar_ms.map(html::rfc3339),
    }))
}

/// Whether a digest is wanted
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"on": false}))]
struct Wanted {
    on: bool,
}

/// Turn the digest by mail on or off
///
/// Once a morning, when there is something to tell. An address that was not proven gets one letter that asks; the
/// digest begins when the button on the page it leads to was pressed.
#[utoipa::path(
    tag = "accounts", operation_id = "set_digest", security(("bearer" = [])), request_body = Wanted,
    responses((status = 204, description = "Done, or asked")),
    extensions(("x-problems" = json!(["no-mail", "invalid", "not-found"])))
)]
#[put("/account/digest")]
pub async fn set_digest(ctx: web::Data<Ctx>, who: SignedIn, body: web::Json<Wanted>) -> Result<HttpResponse> {
    actions::set_digest(&ctx, &who, body.on).await?;
    no_content()
}

/// The address of a calendar, told this once
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"address": "https://tarn.example/calendar/….ics"}))]
struct Address {
    /// Whoever has it may read the calendar; it is kept nowhere
    address: String,
}

/// Make the address of the caller's calendar (RFC 5545), or a new one
///
/// Days that end and parcels on the way, of the caller's own rooms; nobody else's name. The address it had before is
/// good no more.
#[utoipa::path(
    tag = "accounts", operation_id = "make_calendar", security(("bearer" = [])),
    responses((status = 201, description = "Made", body = Address)),
    extensions(("x-problems" = json!(["session-ended"])))
)]
#[post("/account/calendar")]
pub async fn make_calendar(ctx: web::Data<Ctx>, req: HttpRequest, who: FreshSession) -> Result<HttpResponse> {
    let path = actions::new_calendar(&ctx, &who.0).await?;
    let address = format!("{}{path}", transport::own_origin(&req, &ctx.config));
    Ok(HttpResponse::Created().insert_header(("Cache-Control", "no-store")).json(Address { address }))
}

/// End the caller's calendar
#[utoipa::path(
    tag = "accounts", operation_id = "end_calendar", security(("bearer" = [])),
    responses((status = 204, description = "Nothing is at its address any more")),
    extensions(("x-problems" = json!(["not-found"])))
)]
#[delete("/account/calendar")]
pub async fn end_calendar(ctx: web::Data<Ctx>, who: SignedIn) -> Result<HttpResponse> {
    actions::end_calendar(&ctx, &who).await?;
    no_content()
}
