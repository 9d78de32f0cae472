//! A room that was kept on another server comes here with all its records. What its keeper wrote goes in as it was written,
//! under devices that stand for those of that time and take nothing new; what the other server had decided becomes
//! history, which gives no right. Once all is here, one decision says so, and from then on nothing more comes along.

use std::collections::{BTreeSet, HashMap};

use serde_json::Value;
use tarn_domain::catalogue::{Body, Op, Writer};
use tarn_domain::state::{EntityState, Entry, Memory};
use tarn_domain::streams::{AccountId, DeviceId, EpochId, OpId, StockId, StreamId};

use super::append::{Appended, Incoming, Ops, Outcome, append, in_write, run, touch_up};
use super::areas::following_id;
use super::hand_over::not_too_many;
use super::intake::{Told, read_brought};
use super::list::may;
use super::path::Path;
use crate::platform::auth::{SignedIn, still_alive};
use crate::platform::errors::{INVALID, NOT_FOUND, Problem};
use crate::platform::write::{Write, write};
use crate::platform::{Ctx, Result};
use crate::streams::actions::areas::Right;
use crate::streams::refusals::HISTORY_ENDED;
use crate::streams::store;

/// So many characters has the name of the other server at most.
const MOST_NAME: usize = 200;

/// What came of records that were brought.
#[derive(Debug)]
pub struct Brought {
    /// The stream's head afterwards.
    pub head: u64,
    /// One outcome per op, in order.
    pub outcomes: Vec<Outcome>,
}

/// Where the records come from.
#[derive(Debug, Clone)]
pub struct Origin {
    /// What the other server is called, as the keeper says.
    pub named: Option<String>,
    /// The epoch that the stream had there.
    pub epoch: EpochId,
    /// Its head there.
    pub head: u64,
}

/// Under which id it is said that all is here: of each stream one.
fn end_id(stream: StreamId) -> OpId {
    following_id(OpId(stream.0), "history.taken_in")
}

/// Takes records of another server in, in the order in which that server had them.
///
/// # Errors
/// `not-found`, `push-too-large`, `history-ended`, `clock-ahead`, `quota`, `session-ended`; then nothing was stored.
pub async fn bring(ctx: &Ctx, who: &SignedIn, stream: StreamId, ops: &[Value]) -> Result<Brought> {
    not_too_many(ops.len())?;
    let account = warmed(ctx, who, stream).await?;
    write(ctx, &who.actor(), async |w| {
        let (found, ended) = opened(w, who, stream).await?;
        if ended {
            return Err(Problem::new(&HISTORY_ENDED));
        }
        let read: Vec<Told> = ops.iter().map(read_brought).collect();
        let devices = devices(w, stream, account, found.epoch, &read).await?;
        let is_decision = |told: &Told| told.as_ref().is_ok_and(|r| r.op.body.writer() == Writer::Decision);
        let decided: Vec<bool> = read.iter().map(is_decision).collect();
        let (decisions, claims): (Vec<Told>, Vec<Told>) = read.into_iter().partition(is_decision);
        let claimed = run(w, stream, Ops::Pushed(claims, &devices), Path::Brought(account)).await?;
        let told = decide(w, stream, account, decisions).await?;
        let (mut claimed, mut told_each) = (claimed.outcomes.into_iter(), told.outcomes.into_iter());
        let next = |decided: bool| if decided { told_each.next() } else { claimed.next() };
        Ok(Brought { head: told.head, outcomes: decided.into_iter().filter_map(next).collect() })
    })
    .await
}

/// Who brings it, if they may; and what is long to read is read before anything is locked.
async fn warmed(ctx: &Ctx, who: &SignedIn, stream: StreamId) -> Result<AccountId> {
    let account = AccountId(who.account);
    let row = may(ctx, account, stream, Right::Write).await?;
    store::cache::warm(ctx, &row).await?;
    Ok(account)
}

/// The stream under its lock, and whether all is here already.
async fn opened(w: &mut Write, who: &SignedIn, stream: StreamId) -> Result<(Appended, bool)> {
    still_alive(w.tx(), who.session, w.now).await?;
    let found = touch_up(w, stream).await?;
    let ended = in_write(w, stream, |memory| memory.entry(end_id(stream)).is_some());
    Ok((found, ended == Some(true)))
}

/// Registers the devices under which these claims were written, and says whose each is. One that writes here keeps to
/// what it writes here.
async fn devices(
    w: &Write,
    stream: StreamId,
    account: AccountId,
    epoch: EpochId,
    read: &[Told],
) -> Result<HashMap<DeviceId, AccountId>> {
    let there = store::devices_of(w.tx(), stream).await?;
    let claims = read.iter().flatten().filter(|r| r.op.body.writer() == Writer::Claim);
    let named: BTreeSet<DeviceId> = claims.map(|r| r.op.device).collect();
    let new = named.iter().copied().filter(|device| !there.contains_key(device));
    store::register_imported(w.tx(), stream, new, account, epoch, w.now).await?;
    let stands = |device: &DeviceId| there.get(device).is_none_or(|d| d.imported && d.account == account);
    Ok(named.into_iter().filter(stands).map(|device| (device, account)).collect())
}

/// Keeps decisions of another server as history.
async fn decide(
    w: &mut Write,
    stream: StreamId,
    account: AccountId,
    decisions: Vec<Told>,
) -> Result<Brought> {
    let decisions: Vec<Op> = decisions.into_iter().flatten().map(|ready| ready.op).collect();
    let asked = in_write(w, stream, |memory| {
        decisions.iter().map(|op| as_kept(memory, op)).collect::<Vec<Result<Incoming, u64>>>()
    });
    let asked = asked.unwrap_or_default();
    let new: Vec<Incoming> = asked.iter().filter_map(|one| one.clone().ok()).collect();
    let appended = append(w, stream, new, Path::Decision(account)).await?;
    let mut seqs = appended.outcomes.into_iter().map(|outcome| match outcome {
        Outcome::Accepted(_, seq) => seq,
        Outcome::Refused(..) => 0,
    });
    let outcome = |(op, one): (&Op, Result<Incoming, u64>)| {
        let seq = one.map_or_else(Some, |_| seqs.next());
        Outcome::Accepted(op.id, seq.unwrap_or_default())
    };
    Ok(Brought { head: appended.head, outcomes: decisions.iter().zip(asked).map(outcome).collect() })
}

/// A decision as it is kept here, or the number under which it is here already. One that speaks of what did not come
/// along is words alone.
fn as_kept(memory: &Memory, op: &Op) -> Result<Incoming, u64> {
    let id = following_id(op.id, "history");
    if let Some(entry) = memory.entry(id) {
        return Err(entry.seq);
    }
    let stands = |body: &Body| memory.missing(&body.links()).is_empty();
    let words = || op.body.as_words(op.id, |stock| memory.is_made(stock.into()));
    let body = op.body.as_history(op.id).filter(stands).unwrap_or_else(words);
    Ok(Incoming { id, at: Some(op.at), body })
}

/// Says that all is here; doing it again changes nothing.
///
/// # Errors
/// `not-found`, `session-ended`, `invalid` for a name that is none.
pub async fn end_bringing(ctx: &Ctx, who: &SignedIn, stream: StreamId, origin: &Origin) -> Result<Appended> {
    let name = origin.named.as_deref().unwrap_or("-");
    if name.trim().is_empty() || name.chars().count() > MOST_NAME || name.chars().any(char::is_control) {
        let why = format!("is one line of 1 to {MOST_NAME} characters");
        return Err(Problem::new(&INVALID)
            .detail("The other server's name can't be taken.")
            .at("/server", why));
    }
    let account = warmed(ctx, who, stream).await?;
    write(ctx, &who.actor(), async |w| {
        let (found, ended) = opened(w, who, stream).await?;
        if ended {
            return Ok(found);
        }
        let devices = store::devices_of(w.tx(), stream).await?;
        let brought = |device: &DeviceId| devices.get(device).is_some_and(|device| device.imported);
        let told = in_write(w, stream, |memory| taken_in(memory, origin, brought));
        let (body, claims, stocks) = told.ok_or_else(|| Problem::new(&NOT_FOUND))?;
        let decided = vec![Incoming { id: end_id(stream), at: None, body }];
        let appended = append(w, stream, decided, Path::Decision(account)).await?;
        w.audit(
            "streams",
            format!("account {account} brought {claims} entries of stream {stream} from another server; {stocks} stocks count as established"),
        );
        Ok(appended)
    })
    .await
}

/// What came along, by what is there: the word for it, how many claims, how many stocks that had come in.
fn taken_in(memory: &Memory, origin: &Origin, brought: impl Fn(&DeviceId) -> bool) -> (Body, u64, usize) {
    let is_claim = |e: &&Entry| !e.linked.decision && brought(&e.linked.order.device);
    let made_there = |made: Option<OpId>| made.and_then(|op| memory.entry(op)).is_some_and(|e| is_claim(&e));
    let stocks = memory.states().into_iter().filter_map(|(entity, state)| match state {
        EntityState::Stock(stock) if stock.came_in() && made_there(stock.made) => Some(StockId(entity.id)),
        _ => None,
    });
    let stocks: Vec<StockId> = stocks.collect();
    let all = || memory.entries().iter();
    let (claims, many) = (all().filter(is_claim).count() as u64, stocks.len());
    let decisions = all().filter(|e| e.kind.starts_with("history.")).count() as u64;
    let from = (origin.named.clone(), origin.epoch, origin.head);
    (Body::all_taken_in(from, (claims, decisions), stocks), claims, many)
}
