//! Rows of ops: how they stand, how their bytes are read.

use rusqlite::Row;
use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, ValueRef};
use serde::Deserialize;
use serde_json::{Map, Value};
use tarn_domain::catalogue::{Body, Op};
use tarn_domain::streams::{
    Acceptance, At, By, Clock, DeviceId, Envelope, NotAnOp, OpDigest, OpId, Received,
};
use uuid::Uuid;

/// How far an op has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OpState {
    /// Only here; the next sync pushes it.
    Pending = 0,
    /// The server said yes; a pull has yet to bring it.
    Answered = 1,
    /// A pull brought it.
    Accepted = 2,
    /// What it refers to is not on the server yet; tried again after a pull.
    Waiting = 3,
    /// The server said no; kept until mended or dropped, and not part of the state.
    Refused = 4,
}

impl OpState {
    /// The word in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::Pending => "pending",
            Self::Answered => "answered",
            Self::Accepted => "accepted",
            Self::Waiting => "waiting",
            Self::Refused => "refused",
        }
    }
}

impl ToSql for OpState {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok((*self as i64).into())
    }
}

impl FromSql for OpState {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let all = [Self::Pending, Self::Answered, Self::Accepted, Self::Waiting, Self::Refused];
        let n = value.as_i64()?;
        usize::try_from(n).ok().and_then(|i| all.get(i)).copied().ok_or(FromSqlError::OutOfRange(n))
    }
}

/// An op's text without a look at its body.
#[derive(Debug, Deserialize)]
pub(super) struct Raw {
    pub id: OpId,
    pub device: DeviceId,
    pub clock: Clock,
    pub at: At,
    pub body: Map<String, Value>,
}

impl Raw {
    /// Reads stored or pulled bytes.
    pub fn read(text: &str) -> Result<Self, serde_json::Error> {
        serde_json::from_str(text)
    }

    /// The word for what it says.
    pub fn kind(&self) -> &str {
        self.body.get("op").and_then(Value::as_str).unwrap_or_default()
    }

    /// The op, if this version knows its kind and fields.
    pub fn op(mut self) -> Result<Op, NotAnOp> {
        let Some(Value::String(kind)) = self.body.remove("op") else {
            return Err(NotAnOp::malformed("/body/op", "no kind"));
        };
        let body = Body::decode(&kind, self.body)?;
        Ok(Envelope { id: self.id, device: self.device, clock: self.clock, at: self.at, body })
    }
}

/// An op that this version understands.
pub(super) fn op_of(text: &str) -> Option<Op> {
    Raw::read(text).ok()?.op().ok()
}

/// Reads the digest of an op's first bytes, if words in it were blanked.
pub(super) fn digest(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<OpDigest>> {
    Ok(row.get::<_, Option<[u8; 32]>>(column)?.map(OpDigest))
}

/// Reads an acceptance out of its three columns.
pub(super) fn acceptance(by: Option<[u8; 16]>, received: Option<i64>, decision: bool) -> Option<Acceptance> {
    let by = By::of(Uuid::from_bytes(by?));
    Some(Acceptance { by, received: Received(received?), decision })
}
