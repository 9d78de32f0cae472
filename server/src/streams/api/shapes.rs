//! What goes over the wire of the sync endpoints. Ops are texts of their own, written as they are stored; their shape is
//! told here for the API document.

use serde::Serialize;
use serde_json::Value;
use tarn_domain::streams::OpId;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::platform::errors::Problem;
use crate::platform::openapi::ProblemBody;
use crate::streams::actions::Outcome;
use crate::streams::refusals::ID_TAKEN;

/// An op: one entry of a stream
#[derive(ToSchema)]
#[schema(example = json!({"id": "0190a1b2-0000-7000-8000-00000000000a", "device": "0190a1b2-0000-7000-8000-000000000002",
    "clock": "2026-03-01T09:30:00.123Z/0004", "at": "2026-03-01T09:28:00Z",
    "body": {"op": "tank.added", "tank": "0190a1b2-0000-7000-8000-00000000000b", "name": "A1"}}))]
#[allow(dead_code, reason = "says what goes over the wire")]
pub struct OpEnvelope {
    /// Made by who writes it
    id: Uuid,
    /// The device it was written on
    device: Uuid,
    /// When it was written, by that device's clock, which never goes back: `2026-03-01T09:30:00.123Z/0004`
    clock: String,
    /// When it happened, by who wrote it: `2026-03-01T09:28:00Z`
    at: String,
    /// Its kind in the field `op`; the fields of each kind are told by `GET /api/v1/ops-catalogue`
    #[schema(value_type = Object)]
    body: Value,
}

/// An op as a pull gives it
#[derive(ToSchema)]
#[schema(example = json!({"seq": 43, "op": {"id": "0190a1b2-0000-7000-8000-00000000000a",
    "device": "0190a1b2-0000-7000-8000-000000000002", "clock": "2026-03-01T09:30:00.123Z/0004",
    "at": "2026-03-01T09:28:00Z",
    "body": {"op": "tank.added", "tank": "0190a1b2-0000-7000-8000-00000000000b", "name": "A1"}},
    "by": "0190a1b2-0000-7000-8000-000000000009", "received": 1_772_357_405_000_i64, "decision": false,
    "receipt": "00112233445566778899aabbccddeeff"}))]
#[allow(dead_code, reason = "says what goes over the wire")]
pub struct PulledOp {
    /// Its number in the stream
    seq: u64,
    op: OpEnvelope,
    /// The account or helper that wrote it
    by: Uuid,
    /// When the server first took it in, in milliseconds since 1970
    received: i64,
    /// Whether the server decided it
    decision: bool,
    /// The server's word for all this, to be sent along if the op has to be pushed again
    receipt: String,
    /// Where words of it were blanked: the digest of its first bytes
    #[schema(nullable = false)]
    was: Option<String>,
    /// With `op.redacted`: the op whose words it blanked, as that is now
    #[schema(no_recursion, nullable = false)]
    blanked: Option<Box<PulledOp>>,
}

/// Ops of a stream
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what goes over the wire")]
pub struct PulledOps {
    ops: Vec<PulledOp>,
    epoch: Uuid,
    /// The greatest number in the stream
    head: u64,
    /// The chain at the last of these ops, in lower-case hex
    chain: String,
    /// Whether there are more
    more: bool,
}

/// Ops to push
#[derive(ToSchema)]
#[schema(example = json!({"ops": [{"op": {"id": "0190a1b2-0000-7000-8000-00000000000a",
    "device": "0190a1b2-0000-7000-8000-000000000002", "clock": "2026-03-01T09:30:00.123Z/0004",
    "at": "2026-03-01T09:28:00Z", "body": {"op": "tank.added", "tank": "0190a1b2-0000-7000-8000-00000000000b", "name": "A1"}}}]}))]
#[allow(dead_code, reason = "says what goes over the wire")]
pub struct PushedOps {
    /// At most 1,000, in the order of their clocks
    ops: Vec<PushedOp>,
}

/// An op to push
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what goes over the wire")]
pub struct PushedOp {
    op: OpEnvelope,
    /// If it was accepted before, and comes back after a restore
    receipt: Option<ReceiptBack>,
}

/// What a pull said of an op that is pushed again
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what goes over the wire")]
pub struct ReceiptBack {
    by: Uuid,
    received: i64,
    decision: bool,
    /// What the pull called `receipt`
    mac: String,
    was: Option<String>,
}

/// What came of a push
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what goes over the wire")]
pub struct PushDone {
    epoch: Uuid,
    /// The greatest number in the stream
    head: u64,
    /// One per op, in their order
    results: Vec<OpResult>,
}

/// What came of one op
#[derive(Serialize, ToSchema)]
#[serde(untagged)]
pub enum OpResult {
    /// It can't be told which op it was
    Unreadable(OpUnreadable),
    /// It was refused
    Refused(Box<OpRefused>),
    /// It is in the stream
    Accepted(OpAccepted),
}

/// An op that is no op, and has no id
#[derive(Serialize, ToSchema)]
pub struct OpUnreadable {
    /// Which of those that were sent, from 0 on
    index: usize,
    #[schema(value_type = ProblemBody)]
    problem: Value,
}

/// An op that was refused
#[derive(Serialize, ToSchema)]
pub struct OpRefused {
    /// As it was sent
    #[schema(value_type = String)]
    id: Value,
    #[schema(value_type = ProblemBody)]
    problem: Value,
    /// With `id-taken`: the op that has this id
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<OpEnvelope>, nullable = false)]
    op: Option<Value>,
    /// With `id-taken`: its number
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    seq: Option<u64>,
}

/// An op that is in the stream, now or before
#[derive(Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OpAccepted {
    #[schema(value_type = Uuid)]
    id: OpId,
    /// Its number
    seq: u64,
}

impl OpResult {
    /// What came of the op of this place among those that were sent.
    pub fn of(index: usize, outcome: &Outcome) -> Self {
        let (id, problem, stored) = match outcome {
            Outcome::Accepted(id, seq) => return Self::Accepted(OpAccepted { id: *id, seq: *seq }),
            Outcome::Refused(id, problem, stored) => (id, problem, stored),
        };
        let told = problem.to_value();
        let Some(id) = id else { return Self::Unreadable(OpUnreadable { index, problem: told }) };
        let stored = stored.as_ref().filter(|_| problem.kind() == &ID_TAKEN);
        let op = stored.map(|stored| serde_json::from_str(&stored.text).unwrap_or(Value::Null));
        let seq = stored.map(|stored| stored.seq);
        Self::Refused(Box::new(OpRefused { id: id.clone(), problem: told, op, seq }))
    }
}

/// The server's word for who wrote one op, or why it gives none
#[derive(Serialize, ToSchema)]
#[serde(untagged)]
pub enum Voucher {
    /// Its word
    Word(VoucherWord),
    /// Why not
    No(NoVoucher),
}

/// The server's word for who wrote an op
#[derive(Serialize, ToSchema)]
pub struct VoucherWord {
    /// The op
    #[schema(value_type = Uuid)]
    id: OpId,
    /// To be handed over with it
    mac: String,
}

/// Why the server gives no word for an op
#[derive(Serialize, ToSchema)]
pub struct NoVoucher {
    #[schema(value_type = ProblemBody)]
    problem: Value,
}

impl From<Result<(OpId, String), Problem>> for Voucher {
    fn from(word: Result<(OpId, String), Problem>) -> Self {
        match word {
            Ok((id, mac)) => Self::Word(VoucherWord { id, mac }),
            Err(problem) => Self::No(NoVoucher { problem: problem.to_value() }),
        }
    }
}
