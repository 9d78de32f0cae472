//! Blanking words of an entry.

use actix_web::{post, web};
use serde::{Deserialize, Serialize};
use tarn_domain::streams::{AccountId, OpId, StreamId};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::platform::auth::FreshSession;
use crate::platform::{Ctx, Result};
use crate::streams::actions;

/// What is to be blanked.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"entry": "0190a1b2-0000-7000-8000-00000000000a", "fields": ["text"]}))]
pub struct Blank {
    /// The entry.
    entry: Uuid,
    /// Which of its personal fields, as the catalogue of ops has them; none: all that hold anything.
    #[serde(default)]
    fields: Vec<String>,
}

/// The decision that blanked words
#[derive(Serialize, ToSchema)]
pub struct Redaction {
    #[schema(value_type = Uuid)]
    id: OpId,
    /// Its number in the stream
    seq: u64,
    #[schema(value_type = Uuid)]
    entry: OpId,
    /// What it blanks
    fields: Vec<String>,
}

/// Blanks words of an entry for good.
#[utoipa::path(
    tag = "streams", operation_id = "redact_entry", summary = "Blank words of an entry for good",
    description = "By those who may write the stream: the decision `op.redacted` blanks personal fields of an entry here \
        and on every device that pulls it. The entry itself stays, and what follows from it. It can't be undone. The same \
        again changes nothing.",
    params(("stream" = Uuid, Path, description = "The stream")), request_body = Blank,
    responses((status = 200, description = "The decision", body = Redaction, example = json!({
        "id": "0190a1b2-0000-7000-8000-00000000000c", "seq": 44, "entry": "0190a1b2-0000-7000-8000-00000000000a",
        "fields": ["text"]}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["not-personal", "nothing-personal", "session-ended",
        "server-outdated", "stream-full", "stream-gone"])))
)]
#[post("/streams/{stream}/redactions")]
pub async fn redact(
    FreshSession(who): FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<Blank>,
) -> Result<web::Json<Redaction>> {
    let (account, stream, entry) = (AccountId(who.account), StreamId(*path), OpId(body.entry));
    let done = actions::redact(&ctx, &who.actor(), account, stream, entry, &body.fields).await?;
    Ok(web::Json(Redaction { id: done.id, seq: done.seq, entry, fields: done.fields }))
}
