//! The devices of the caller over JSON: listed, and ended one by one.

use actix_web::{HttpResponse, delete, get, web};
use serde::Serialize;
use tarn_domain::streams::{DeviceId, StreamId};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::accounts::actions;
use crate::platform::web::no_content;
use crate::platform::{Ctx, FreshSession, Result, SignedIn, html};

/// A device of the caller
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"stream": "0190a1b2-0000-7000-8000-000000000001", "stream_name": "Cellar room",
    "device": "0190a1b2-0000-7000-8000-000000000002", "name": "tarn", "current": false,
    "registered_at": "2026-03-01T09:30:00Z"}))]
struct OwnDevice {
    /// What it writes into
    stream: Uuid,
    stream_name: String,
    device: Uuid,
    /// What it calls itself
    name: String,
    /// Whether it last came in the session of this call
    current: bool,
    registered_at: String,
}

/// List the caller's devices
///
/// One for each stream that a client writes into; those that were ended are left out.
#[utoipa::path(
    tag = "accounts", operation_id = "list_devices", security(("bearer" = [])),
    responses((status = 200, description = "The oldest first", body = Vec<OwnDevice>))
)]
#[get("/devices")]
pub async fn list_devices(ctx: web::Data<Ctx>, who: SignedIn) -> Result<web::Json<Vec<OwnDevice>>> {
    let all = actions::devices(&ctx, &who).await?.into_iter().map(|own| OwnDevice {
        stream: own.row.stream,
        stream_name: own.stream,
        device: own.row.device,
        name: own.row.name,
        current: own.here,
        registered_at: html::rfc3339(own.row.registered_ms),
    });
    Ok(web::Json(all.collect()))
}

/// End one of the caller's devices, and the session that it last came in
///
/// It is told `device-ended` or `session-ended` and writes no more; what it has not sent stays on it. Whoever signs in
/// on it anew goes on with it.
#[utoipa::path(
    tag = "accounts", operation_id = "end_device", security(("bearer" = [])),
    params(("stream" = Uuid, Path, description = "The stream"), ("device" = Uuid, Path, description = "The device")),
    responses((status = 204, description = "Ended")),
    extensions(("x-problems" = json!(["session-ended"])))
)]
#[delete("/streams/{stream}/devices/{device}")]
pub async fn end_device(
    FreshSession(who): FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse> {
    actions::end_device(&ctx, &who, StreamId(path.0), DeviceId(path.1)).await?;
    no_content()
}
