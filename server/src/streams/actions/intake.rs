//! What an op goes through before it is accepted, apart from the areas' own rules. Pure over what is in memory.

use std::collections::HashMap;

use bytes::Bytes;
use serde::Deserialize;
use serde_json::Value;
use serde_json::value::RawValue;
use tarn_domain::catalogue::{
    Body, Op, Writer, is_for_helpers, is_for_probes, op_text, read_accepted, read_accepted_text, read_op,
    read_op_text,
};
use tarn_domain::state::Memory;
use tarn_domain::streams::{
    Acceptance, AccountId, By, Clock, DeviceId, Envelope, LARGEST_OP, Links, NotAnOp, OpDigest, OpText,
    Received, StreamId, receipt_holds, voucher_holds,
};

use super::append::Incoming;
use super::path::Path;
use crate::platform::errors::Problem;
use crate::streams::refusals::{
    self, DECISION_BY_CLIENT, DEVICE_NOT_YOURS, NOT_FOR_A_LINK, OP_RELIED_ON, RECEIPT_FORGED, VOUCHER_FORGED,
    missing, missing_entry,
};

/// A receipt as it comes back with an op.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Receipt {
    by: By,
    received: Received,
    decision: bool,
    mac: String,
    /// If words in the op were blanked: the digest of its first bytes, in lower-case hex.
    #[serde(default)]
    was: Option<String>,
}

/// An op as it stands in a push: its text, and its receipt if it was accepted before.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Raw<'a> {
    #[serde(borrow)]
    op: &'a RawValue,
    #[serde(default)]
    receipt: Option<Receipt>,
}

impl Raw<'_> {
    /// The same, with a share of the body that it stands in.
    pub fn keep(self, body: &Bytes) -> Pushed {
        Pushed { op: body.slice_ref(self.op.get().as_bytes()), receipt: self.receipt }
    }
}

/// An op as pushed.
pub struct Pushed {
    op: Bytes,
    receipt: Option<Receipt>,
}

/// An op that can be read and whose origin is proven, or not.
pub struct Ready {
    /// The op.
    pub op: Op,
    /// What it has to do with what.
    pub links: Links,
    /// Its canonical text.
    pub text: String,
    /// From a good receipt: the digest of its first bytes, if words in it were blanked.
    pub was: Option<OpDigest>,
    /// From a good receipt: its first acceptance.
    pub back: Option<Acceptance>,
}

impl Ready {
    /// Its text as chains and receipts take it.
    pub fn op_text(&self) -> OpText<'_> {
        OpText { text: &self.text, was: self.was }
    }
}

/// An op as it was read, or why it is none and, if it can be told, its id.
pub type Told = Result<Ready, (Option<Value>, Problem)>;

/// Reads an op that came over the wire.
pub fn read(pushed: &Pushed, key: &[u8], stream: StreamId) -> Told {
    // It was text before it was kept as a share of the body.
    let text = str::from_utf8(&pushed.op).unwrap_or_default();
    let no = |problem| (serde_json::from_str::<Value>(text).ok().as_ref().and_then(id_of), problem);
    let read = match pushed.receipt {
        Some(_) => read_accepted_text(text),
        None => read_op_text(text),
    };
    let read = read.map_err(|e| no(refusals::not_an_op(&e)))?;
    let forged = || no(Problem::new(&RECEIPT_FORGED));
    let (mut was, mut back) = (None, None);
    if let Some(r) = &pushed.receipt {
        let first = Acceptance { by: r.by, received: r.received, decision: r.decision };
        was = r.was.as_deref().map(|was| OpDigest::of_hex(was).ok_or_else(forged)).transpose()?;
        if !receipt_holds(key, stream, OpText { text: &read.text, was }, first, &r.mac) {
            return Err(forged());
        }
        back = Some(first);
    }
    Ok(Ready { links: read.op.body.links(), op: read.op, text: read.text, was, back })
}

/// Reads an op that somebody hands over for its writer; `mac` is what the server gave that person.
pub fn read_handed(op: &Value, mac: &str, key: &[u8], stream: StreamId, writer: AccountId) -> Told {
    let id = id_of(op);
    let read = read_op(op.clone()).map_err(|e| (id.clone(), refusals::not_an_op(&e)))?;
    if !voucher_holds(key, stream, &read.text, writer, mac) {
        return Err((id, Problem::new(&VOUCHER_FORGED)));
    }
    Ok(Ready { links: read.op.body.links(), op: read.op, text: read.text, was: None, back: None })
}

/// Reads an op that another server had accepted. What that one had decided may be large, as decisions are.
pub fn read_brought(op: &Value) -> Told {
    let no = |e: &NotAnOp| (id_of(op), refusals::not_an_op(e));
    let read = read_accepted(op.clone()).map_err(|e| no(&e))?;
    let bytes = read.text.len();
    if bytes > LARGEST_OP && read.op.body.writer() == Writer::Claim {
        return Err(no(&NotAnOp::TooLarge { bytes }));
    }
    Ok(Ready { links: read.op.body.links(), op: read.op, text: read.text, was: None, back: None })
}

/// Its id, if it can be told.
fn id_of(op: &Value) -> Option<Value> {
    op.get("id").filter(|id| id.as_str().is_some_and(|text| text.len() == 36)).cloned()
}

/// Makes the op of a page or of a decision: stamped after every clock the stream has accepted.
pub fn write(incoming: Incoming, device: DeviceId, greatest: Clock, now_ms: i64) -> Ready {
    let clock = greatest.tick(now_ms);
    let at = incoming.at.map_or(clock.at(), |at| at.min(clock.at()));
    let op: Envelope<Body> = Envelope { id: incoming.id, device, clock, at, body: incoming.body };
    let text = op_text(&op);
    Ready { links: op.body.links(), op, text, was: None, back: None }
}

/// Whether what the server is about to write can be read again: the version of its id, its size (a decision may be
/// larger), its texts.
pub fn is_readable(ready: &Ready, decision: bool) -> Result<(), Problem> {
    let read = if decision { read_accepted_text } else { read_op_text }(&ready.text);
    read.map(drop).map_err(|no| refusals::not_an_op(&no))
}

/// What is refused whatever the op means: a device of another, a decision by a client, a lost reference, taking
/// back what can't be taken back.
pub fn judge(
    ready: &Ready,
    path: &Path,
    devices: &HashMap<DeviceId, AccountId>,
    memory: &Memory,
) -> Result<(), Problem> {
    let op = &ready.op;
    if let (Some(account), None) = (path.writer(), ready.back) {
        if devices.get(&op.device) != Some(&account) {
            return Err(Problem::new(&DEVICE_NOT_YOURS));
        }
        if op.body.writer() == Writer::Decision {
            return Err(
                Problem::new(&DECISION_BY_CLIENT).detail(format!("{} is a decision.", op.body.kind()))
            );
        }
    }
    let kind = op.body.kind();
    match path {
        Path::Link(_) if !is_for_helpers(kind) => {
            return Err(Problem::new(&NOT_FOR_A_LINK).detail(format!("{kind} is not for a helper to write.")));
        }
        Path::Probe(_) if !is_for_probes(kind) => {
            return Err(Problem::new(&NOT_FOR_A_LINK).detail(format!("{kind} is not for a probe to write.")));
        }
        _ => {}
    }
    // What the server writes has to be readable by every client.
    if path.writer().is_none() {
        is_readable(ready, matches!(path, Path::Decision(_)))?;
    }
    let lost = memory.missing(&ready.links);
    if !lost.is_empty() {
        return Err(missing(&lost));
    }
    if let Body::Redacted(says) = &op.body
        && memory.entry(says.entry).is_none()
    {
        return Err(missing_entry(says.entry));
    }
    if let Some(target) = ready.links.withdraws {
        let Some(entry) = memory.entry(target) else {
            return Err(missing_entry(target));
        };
        let fixed =
            entry.linked.decision || entry.linked.links.withdraws.is_some() || memory.is_relied_on(target);
        // What was accepted before a decision came to rest on the entry stays accepted after a restore.
        if fixed && ready.back.is_none() {
            return Err(Problem::new(&OP_RELIED_ON));
        }
    }
    Ok(())
}
