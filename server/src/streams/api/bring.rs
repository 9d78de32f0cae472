//! A room that moves here from another server.

use actix_web::{post, web};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use tarn_domain::streams::{EpochId, StreamId};
use utoipa::ToSchema;
use uuid::Uuid;

use super::shapes::{OpEnvelope, OpResult};
use crate::platform::auth::FreshSession;
use crate::platform::{Ctx, Result};
use crate::streams::actions::{self, Origin};

/// Records of another server
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"ops": [{"id": "0190a1b2-0000-7000-8000-00000000000a",
    "device": "0190a1b2-0000-7000-8000-000000000002", "clock": "2026-03-01T09:30:00.123Z/0004",
    "at": "2026-03-01T09:28:00Z", "body": {"op": "tank.added", "tank": "0190a1b2-0000-7000-8000-00000000000b", "name": "A1"}}]}))]
pub struct Records {
    /// At most 1,000, in the order in which that server had them.
    #[schema(value_type = Vec<OpEnvelope>)]
    ops: Vec<Value>,
}

/// What came of records that were brought
#[derive(Serialize, ToSchema)]
pub struct RecordsTaken {
    /// The greatest number in the stream
    head: u64,
    /// One per op, in order; what the other server had decided has a new id and a new number
    results: Vec<OpResult>,
}

/// Takes records of another server in.
#[utoipa::path(
    tag = "streams", operation_id = "bring_records", summary = "Bring a room's records from another server",
    description = "For a room that its keeper made here under the id that it had there. What people wrote goes in as it was \
        written; what the other server had decided becomes `history.*`, which is shown and gives no right. Sending the same \
        again changes nothing. When all is here, say so (`end_bringing_records`).",
    params(("stream" = Uuid, Path, description = "The stream")), request_body = Records,
    responses((status = 200, description = "One result per op, as of a push", body = RecordsTaken,
        example = json!({"head": 43, "results": [{"id": "0190a1b2-0000-7000-8000-00000000000a", "seq": 43}]}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["history-ended", "push-too-large", "clock-ahead",
        "op-malformed", "op-unknown", "op-too-large", "at-ahead", "id-taken", "device-not-yours", "missing-reference",
        "op-relied-on", "stream-full", "quota", "server-outdated", "session-ended", "stream-gone"])))
)]
#[post("/streams/{stream}/history")]
pub async fn bring(
    FreshSession(who): FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<Records>,
) -> Result<web::Json<RecordsTaken>> {
    let done = actions::bring(&ctx, &who, StreamId(*path), &body.ops).await?;
    let results = done.outcomes.iter().enumerate().map(|(i, outcome)| OpResult::of(i, outcome)).collect();
    Ok(web::Json(RecordsTaken { head: done.head, results }))
}

/// Where records come from
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"server": "https://old.example", "epoch": "6f1d6c7e-0d0d-4f6e-9d8e-000000000001", "head": 812}))]
pub struct RecordsEnd {
    /// What the other server is called; at most 200 characters.
    #[schema(nullable = false, max_length = 200)]
    server: Option<String>,
    /// The epoch that the stream had there.
    epoch: Uuid,
    /// Its head there.
    #[schema(maximum = 9_007_199_254_740_991_i64)]
    head: u64,
}

/// That all records are here
#[derive(Serialize, ToSchema)]
pub struct RecordsEnded {
    /// The greatest number in the stream
    head: u64,
}

/// Says that all is here.
#[utoipa::path(
    tag = "streams", operation_id = "end_bringing_records", summary = "Say that all records of the other server are here",
    description = "From now on nothing more comes along. Fish that had come in there count as established here, from when \
        this server heard of them: they wait the days of the rule before they may leave, whatever was signed there.",
    params(("stream" = Uuid, Path, description = "The stream")), request_body = RecordsEnd,
    responses((status = 200, description = "Said; also when it was said before", body = RecordsEnded,
        example = json!({"head": 813}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["stream-full", "server-outdated", "session-ended",
        "stream-gone"])))
)]
#[post("/streams/{stream}/history/end")]
pub async fn end(
    FreshSession(who): FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<RecordsEnd>,
) -> Result<web::Json<RecordsEnded>> {
    let RecordsEnd { server, epoch, head } = body.into_inner();
    let origin = Origin { named: server, epoch: EpochId(epoch), head };
    let done = actions::end_bringing(&ctx, &who, StreamId(*path), &origin).await?;
    Ok(web::Json(RecordsEnded { head: done.head }))
}
