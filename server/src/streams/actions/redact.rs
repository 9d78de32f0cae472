//! Blanking words of an entry for good: decided by somebody who keeps the room, told to every device by the decision
//! itself, and done to the stored op whenever such a decision is accepted, also one that comes back after a restore.

use tarn_domain::catalogue::{Body, blanked, personal, read_accepted_text};
use tarn_domain::state::Memory;
use tarn_domain::streams::{AccountId, OpId, Redacted, StreamId};

use super::append::{Accepted, Incoming, Outcome, append};
use super::areas::following_id;
use super::list::may;
use super::path::Path;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result, actor::Actor, write::Write, write::write};
use crate::streams::actions::areas::Right;
use crate::streams::refusals::{NOT_PERSONAL, NOTHING_PERSONAL};
use crate::streams::store::{self, Stored};

/// What was decided.
#[derive(Debug, Clone)]
pub struct Blanked {
    /// The decision.
    pub id: OpId,
    /// Its number.
    pub seq: u64,
    /// What it blanks.
    pub fields: Vec<String>,
}

/// Blanks these personal fields of an entry, or all of them that hold anything if none is named. What is blanked
/// already stays so.
///
/// # Errors
/// `not-found`, `not-personal` for a field that may not be blanked, `nothing-personal` for an entry without any.
pub async fn redact(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    stream: StreamId,
    entry: OpId,
    fields: &[String],
) -> Result<Blanked> {
    may(ctx, account, stream, Right::Write).await?;
    let body = body_of(ctx, stream, entry).await?;
    let fields = chosen(&body, fields)?;
    let id = following_id(entry, &format!("op.redacted {}", fields.join(" ")));
    write(ctx, actor, async |w| {
        let body = Body::Redacted(Redacted { entry, fields: fields.clone() });
        let done = append(w, stream, vec![Incoming { id, at: None, body }], Path::Decision(account)).await?;
        let Some(Outcome::Accepted(id, seq)) = done.outcomes.first() else {
            return Err(Problem::failed("blanking an entry", "the decision was not taken"));
        };
        if !done.accepted.is_empty() {
            let named = fields.join(", ");
            w.audit("streams", format!("{named} of entry {entry} in stream {stream} blanked by {account}"));
        }
        Ok(Blanked { id: *id, seq: *seq, fields: fields.clone() })
    })
    .await
}

/// What an entry says, as it is kept.
async fn body_of(ctx: &Ctx, stream: StreamId, entry: OpId) -> Result<Body> {
    let (held, _) = store::cache::room(ctx, stream).await?;
    let seq = held.memory.entry(entry).map(|entry| entry.seq);
    drop(held);
    let nothing =
        || Problem::new(&NOT_FOUND).detail("There is no such entry. One that is not synced yet comes first.");
    let stored = store::at(&ctx.db.conn, stream, seq.ok_or_else(nothing)?).await?.ok_or_else(nothing)?;
    Ok(read_accepted_text(&stored.text).map_err(|e| Problem::failed("reading an op", e))?.op.body)
}

/// The fields that are to be blanked, in the order of the catalogue, so that the same wish is the same decision.
fn chosen(body: &Body, asked: &[String]) -> Result<Vec<String>> {
    let of_kind = personal(body.kind());
    if let Some(other) = asked.iter().find(|field| !of_kind.contains(&field.as_str())) {
        let may = if of_kind.is_empty() { "nothing".to_owned() } else { of_kind.join(", ") };
        let why = format!("Of {} {may} can be blanked, not {other:?}.", body.kind());
        return Err(Problem::new(&NOT_PERSONAL).detail(why.clone()).at("/fields", why));
    }
    let value = body.to_value();
    let there = |field: &&&str| value.get(**field).is_some_and(serde_json::Value::is_string);
    let wanted = |field: &&&str| asked.is_empty() || asked.iter().any(|one| one == **field);
    let fields: Vec<String> =
        of_kind.iter().filter(there).filter(wanted).map(|field| (*field).to_owned()).collect();
    if fields.is_empty() {
        return Err(Problem::new(&NOTHING_PERSONAL));
    }
    Ok(fields)
}

/// Does what decisions among these say, to the rows of what they speak of.
pub(super) async fn apply(w: &Write, stream: StreamId, memory: &Memory, accepted: &[Accepted]) -> Result<()> {
    for Accepted { op, .. } in accepted {
        let Body::Redacted(says) = &op.body else { continue };
        let Some(seq) = memory.entry(says.entry).map(|entry| entry.seq) else { continue };
        let Some(stored) = store::at(w.tx(), stream, seq).await? else { continue };
        if let Some(text) = blanked(&stored.text, &says.fields) {
            let was = stored.op_text().digest();
            store::blank(w.tx(), stream, seq, text, was).await?;
        }
    }
    Ok(())
}

/// What the decisions among these ops blanked, as it is kept now: a reader that holds it as it was takes it along.
pub(super) async fn blanked_by(
    conn: &impl sea_orm::ConnectionTrait,
    stream: StreamId,
    op: &Stored,
) -> Result<Option<Stored>> {
    // few ops are decisions, and fewer are these
    if !op.accepted.decision || !op.text.contains("\"op.redacted\"") {
        return Ok(None);
    }
    let read = read_accepted_text(&op.text).map_err(|e| Problem::failed("reading an op", e))?.op.body;
    let Body::Redacted(says) = read else { return Ok(None) };
    store::by_id(conn, stream, says.entry).await
}
