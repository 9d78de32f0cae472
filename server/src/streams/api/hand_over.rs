//! Handing over what was written before the right was lost, and taking it in.

use actix_web::{post, web};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use tarn_domain::streams::{AccountId, StreamId};
use utoipa::ToSchema;
use uuid::Uuid;

use super::shapes::{OpEnvelope, OpResult, Voucher};
use crate::platform::auth::FreshSession;
use crate::platform::{Ctx, Result};
use crate::streams::actions::{self, Handed};

/// Ops that are to be vouched for.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"ops": [{"id": "0190a1b2-0000-7000-8000-00000000000a",
    "device": "0190a1b2-0000-7000-8000-000000000002", "clock": "2026-03-01T09:30:00.123Z/0004",
    "at": "2026-03-01T09:28:00Z", "body": {"op": "tank.added", "tank": "0190a1b2-0000-7000-8000-00000000000b", "name": "A1"}}]}))]
pub struct ToVouch {
    /// At most 1,000.
    #[schema(value_type = Vec<OpEnvelope>)]
    ops: Vec<Value>,
}

/// Words for ops
#[derive(Serialize, ToSchema)]
pub struct Vouchers {
    /// The account that wrote them
    #[schema(value_type = Uuid)]
    from: AccountId,
    /// One per op, in order
    words: Vec<Voucher>,
}

/// Vouches for who wrote ops.
#[utoipa::path(
    tag = "streams", operation_id = "vouch_for_ops", summary = "Have the server vouch for who wrote ops",
    description = "By those who have a device in the stream, also when they may no longer write it: the server's word that \
        each op was written on a device of theirs. With it another can take them in. Nothing is stored.",
    params(("stream" = Uuid, Path, description = "The stream")), request_body = ToVouch,
    responses((status = 200, description = "One word or problem per op, in order", body = Vouchers, example = json!({
        "from": "0190a1b2-0000-7000-8000-000000000009",
        "words": [{"id": "0190a1b2-0000-7000-8000-00000000000a", "mac": "00112233445566778899aabbccddeeff"}]}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["session-ended", "push-too-large", "device-not-yours", "op-malformed",
        "op-unknown", "op-too-large", "at-ahead"])))
)]
#[post("/streams/{stream}/vouchers")]
pub async fn vouch(
    FreshSession(who): FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<ToVouch>,
) -> Result<web::Json<Vouchers>> {
    let account = AccountId(who.account);
    let words = actions::vouch(&ctx, account, StreamId(*path), body.into_inner().ops).await?;
    Ok(web::Json(Vouchers { from: account, words: words.into_iter().map(Voucher::from).collect() }))
}

/// An op with the server's word.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Vouched {
    /// The op.
    #[schema(value_type = OpEnvelope)]
    op: Value,
    /// The server's word for who wrote it.
    mac: String,
}

/// What is to be taken in.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"from": "0190a1b2-0000-7000-8000-000000000009", "ops": [{"mac": "00112233445566778899aabbccddeeff",
    "op": {"id": "0190a1b2-0000-7000-8000-00000000000a", "device": "0190a1b2-0000-7000-8000-000000000002",
    "clock": "2026-03-01T09:30:00.123Z/0004", "at": "2026-03-01T09:28:00Z",
    "body": {"op": "tank.added", "tank": "0190a1b2-0000-7000-8000-00000000000b", "name": "A1"}}}]}))]
pub struct ToAdopt {
    /// The account that wrote them.
    from: Uuid,
    /// At most 1,000, in the order of their clocks.
    ops: Vec<Vouched>,
}

/// What came of an adoption
#[derive(Serialize, ToSchema)]
pub struct TakenIn {
    /// The greatest number in the stream
    head: u64,
    /// How many ops are new
    taken: usize,
    /// One per op, in order
    results: Vec<OpResult>,
}

/// Takes in what another wrote.
#[utoipa::path(
    tag = "streams", operation_id = "adopt_ops", summary = "Take in what another wrote before losing the right",
    description = "By those who may write the stream, and by secretaries of a room's home club. The ops go in as they were \
        written, under their writer's name; the decision `op.adopted` says who took them in. Each has its own result.",
    params(("stream" = Uuid, Path, description = "The stream")), request_body = ToAdopt,
    responses((status = 200, description = "One result per op, as of a push; and how many are new", body = TakenIn,
        example = json!({"head": 44, "taken": 1, "results": [{"id": "0190a1b2-0000-7000-8000-00000000000a", "seq": 43}]}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["voucher-forged", "push-too-large", "clock-ahead",
        "op-malformed", "op-unknown", "op-too-large", "at-ahead", "id-taken", "decision-by-client", "device-not-yours",
        "missing-reference", "op-relied-on", "stream-full", "quota", "server-outdated", "session-ended", "stream-gone"])))
)]
#[post("/streams/{stream}/adoptions")]
pub async fn adopt(
    FreshSession(who): FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<ToAdopt>,
) -> Result<web::Json<TakenIn>> {
    let ToAdopt { from, ops } = body.into_inner();
    let ops: Vec<Handed> = ops.into_iter().map(|Vouched { op, mac }| Handed { op, mac }).collect();
    let (account, stream) = (AccountId(who.account), StreamId(*path));
    let done = actions::adopt(&ctx, &who.actor(), account, stream, AccountId(from), &ops).await?;
    let results = done.appended.outcomes.iter().enumerate();
    let results = results.map(|(i, outcome)| OpResult::of(i, outcome)).collect();
    Ok(web::Json(TakenIn { head: done.appended.head, taken: done.taken.len(), results }))
}
