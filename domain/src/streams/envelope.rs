//! The envelope every op travels in, and how its bytes are read. Must not know what a body means: the
//! caller says how a body of a kind is decoded.

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::canonical::{text, whole_numbers, without_nul};
use super::{At, Clock, DeviceId, OpId, Order, parse_uuid};

/// An op larger than this is refused (bytes of its canonical text).
pub const LARGEST_OP: usize = 16 * 1024;

/// One op: the five fields that are stored, digested and compared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Envelope<B> {
    /// Made by the writer (UUIDv7).
    pub id: OpId,
    /// The writer's device.
    pub device: DeviceId,
    /// The writer's clock.
    pub clock: Clock,
    /// When it happened.
    pub at: At,
    /// What happened.
    pub body: B,
}

impl<B> Envelope<B> {
    /// Its place in the one order.
    pub fn order(&self) -> Order {
        Order { at: self.at, clock: self.clock, device: self.device, id: self.id }
    }
}

/// Why bytes are no op.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotAnOp {
    /// Not of the envelope's form, or a field of the body is wrong.
    #[error("{why}")]
    Malformed {
        /// JSON Pointer of the field within the op.
        pointer: String,
        /// What is wrong with it, in plain words.
        why: String,
    },
    /// A kind or field that this version does not know.
    #[error("{what} is not known to this version")]
    Unknown {
        /// The kind or field.
        what: String,
    },
    /// More than [`LARGEST_OP`] bytes.
    #[error("the entry has {bytes} bytes; {LARGEST_OP} are the most")]
    TooLarge {
        /// Its size.
        bytes: usize,
    },
    /// Dated after the writer's own clock.
    #[error("it is dated {at}, after the clock of the device that wrote it ({clock})")]
    AtAhead {
        /// Its date.
        at: At,
        /// Its clock.
        clock: Clock,
    },
}

impl NotAnOp {
    /// A malformed field.
    pub fn malformed(pointer: impl Into<String>, why: impl Into<String>) -> Self {
        Self::Malformed { pointer: pointer.into(), why: why.into() }
    }

    /// The stable code of the problem.
    pub fn code(&self) -> &'static str {
        match self {
            Self::Malformed { .. } => "op-malformed",
            Self::Unknown { .. } => "op-unknown",
            Self::TooLarge { .. } => "op-too-large",
            Self::AtAhead { .. } => "at-ahead",
        }
    }
}

/// An op as read: typed, and the canonical text that is stored and digested.
#[derive(Debug, Clone, PartialEq)]
pub struct Read<B> {
    /// The op.
    pub op: Envelope<B>,
    /// Its RFC 8785 text.
    pub text: String,
}

/// Reads one op of at most `largest` bytes. `decode` reads a body of a kind (the value of its `op` field) from its
/// other fields.
///
/// # Errors
/// What is wrong, and where.
pub fn read<B>(
    value: Value,
    largest: usize,
    decode: impl FnOnce(&str, Map<String, Value>) -> Result<B, NotAnOp>,
) -> Result<Read<B>, NotAnOp> {
    whole_numbers(&value)
        .map_err(|at| NotAnOp::malformed(at, "numbers are whole and within 2^53 either way"))?;
    without_nul(&value).map_err(|at| NotAnOp::malformed(at, "no text holds the character U+0000"))?;
    let canonical = text(&value);
    if canonical.len() > largest {
        return Err(NotAnOp::TooLarge { bytes: canonical.len() });
    }
    let Value::Object(mut fields) = value else {
        return Err(NotAnOp::malformed("", "an op is an object with id, device, clock, at and body"));
    };
    let id = field(&mut fields, "id", |t| parse_uuid(t).filter(|id| id.get_version_num() == 7).map(OpId))
        .map_err(|e| e.say("a UUID of version 7 in lower case"))?;
    let device = field(&mut fields, "device", |t| parse_uuid(t).map(DeviceId))
        .map_err(|e| e.say("a UUID in lower case"))?;
    let clock: Clock = field(&mut fields, "clock", |t| t.parse().ok())
        .map_err(|e| e.say("a clock like 2026-03-01T09:30:00.123Z/0004"))?;
    let at: At = field(&mut fields, "at", |t| t.parse().ok())
        .map_err(|e| e.say("a time like 2026-03-01T09:30:00Z"))?;
    let Some(Value::Object(mut body)) = fields.remove("body") else {
        return Err(NotAnOp::malformed("/body", "the body is an object whose field op names its kind"));
    };
    if let Some(name) = fields.keys().next() {
        return Err(NotAnOp::Unknown { what: format!("the field {name:?} of an op") });
    }
    let Some(Value::String(kind)) = body.remove("op") else {
        return Err(NotAnOp::malformed("/body/op", "the field op names the kind, like \"stock.lost\""));
    };
    let body = decode(&kind, body)?;
    if at > clock.at() {
        return Err(NotAnOp::AtAhead { at, clock });
    }
    Ok(Read { op: Envelope { id, device, clock, at, body }, text: canonical })
}

/// A field that is missing or of another form.
struct BadField(&'static str);

impl BadField {
    fn say(self, form: &str) -> NotAnOp {
        NotAnOp::malformed(format!("/{}", self.0), format!("{} must be {form}", self.0))
    }
}

fn field<T>(
    fields: &mut Map<String, Value>,
    name: &'static str,
    parse: impl FnOnce(&str) -> Option<T>,
) -> Result<T, BadField> {
    match fields.remove(name) {
        Some(Value::String(text)) => parse(&text).ok_or(BadField(name)),
        _ => Err(BadField(name)),
    }
}

/// Reads the fields of a body of a known kind; says which field is wrong, and tells an unknown field from a
/// wrong one.
///
/// # Errors
/// [`NotAnOp::Unknown`] or [`NotAnOp::Malformed`] with the field's pointer.
pub fn read_fields<T: for<'de> Deserialize<'de>>(
    kind: &str,
    fields: Map<String, Value>,
) -> Result<T, NotAnOp> {
    serde_path_to_error::deserialize(Value::Object(fields)).map_err(|error| {
        let why = error.inner().to_string();
        if why.starts_with("unknown field") {
            let name = why.split('`').nth(1).unwrap_or_default();
            return NotAnOp::Unknown { what: format!("the field {name:?} of {kind}") };
        }
        let path: String = error.path().iter().map(|step| format!("/{step}")).collect();
        NotAnOp::malformed(format!("/body{}", path.replace("/[", "/").replace(']', "")), why)
    })
}
