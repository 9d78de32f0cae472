//! A client registers its device.

use actix_web::{put, web};
use serde::{Deserialize, Serialize};
use tarn_domain::catalogue::OPS_VERSION;
use tarn_domain::streams::{Clock, DeviceId, EpochId, StreamId};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::platform::auth::SignedIn;
use crate::platform::{Ctx, Result};
use crate::streams::actions;

/// What a client calls itself.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "phone in the fish room"}))]
struct DeviceName {
    /// A name for the list of devices, at most 100 characters.
    name: String,
}

/// A device, and how the stream stands
#[derive(Serialize, ToSchema)]
pub struct RegisteredDevice {
    #[schema(value_type = Uuid)]
    stream: StreamId,
    #[schema(value_type = Uuid)]
    device: DeviceId,
    #[schema(value_type = Uuid)]
    epoch: EpochId,
    /// The greatest number in the stream
    head: u64,
    /// The server's version of the ops
    ops_version: u32,
    /// The server's clock: `2026-03-01T09:30:00.123Z/0000`
    #[schema(value_type = String)]
    now: Clock,
}

/// Registers a device.
#[utoipa::path(
    tag = "streams", operation_id = "register_device", summary = "Register a device for a stream",
    description = "The id is made by the client. Doing it again changes nothing; a sync begins with it. One that its owner \
        ended goes on in a session that began afterwards.",
    params(("stream" = Uuid, Path, description = "The stream"), ("device" = Uuid, Path, description = "The device")),
    request_body = DeviceName,
    responses((status = 200, description = "Registered", body = RegisteredDevice, example = json!({
        "stream": "0190a1b2-0000-7000-8000-000000000001", "device": "0190a1b2-0000-7000-8000-000000000002",
        "epoch": "6f1d6c7e-0d0d-4f6e-9d8e-000000000001", "head": 42, "ops_version": 1,
        "now": "2026-03-01T09:30:00.123Z/0000"}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["device-not-yours", "device-ended", "stream-gone"])))
)]
#[put("/streams/{stream}/devices/{device}")]
pub async fn register(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<(Uuid, Uuid)>,
    body: web::Json<DeviceName>,
) -> Result<web::Json<RegisteredDevice>> {
    let (stream, device) = (StreamId(path.0), DeviceId(path.1));
    let name: String = body.name.chars().filter(|c| !c.is_control()).take(100).collect();
    let known = actions::register(&ctx, &who, stream, device, &name).await?;
    Ok(web::Json(RegisteredDevice {
        stream,
        device,
        epoch: known.epoch,
        head: known.head,
        ops_version: OPS_VERSION,
        now: Clock::at_ms(ctx.clock.now_ms()),
    }))
}
