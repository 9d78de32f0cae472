//! The one way into a stream: `append(stream, ops, path)`. Locks the stream's row, brings its state to head,
//! judges op by op, writes ops, projections and head in the caller's transaction. Every "no" to a single op is a
//! result, not an error; nothing of it is stored.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;

use futures_util::future::join;
use serde_json::{Value, json};
use tarn_domain::catalogue::{Body, Op};
use tarn_domain::state::{EntityState, Memory};
use tarn_domain::streams::{
    Acceptance, AccountId, At, Clock, DeviceId, Entity, EpochId, OpId, Received, StreamId, clock_limit,
    next_received,
};
use tokio::task::yield_now;

use super::counted;
use super::intake::{self, Ready, Told};
use super::judge::met;
use super::live::Heads;
use super::path::Path;
use super::projections::project_all;
use super::quota;
use super::redact;
use super::writing::{Rows, write_ops};
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::jobs::Job;
use crate::platform::metrics::Stopwatch;
use crate::platform::{Result, write::Write};
use crate::streams::actions::areas::Areas;
use crate::streams::refusals::{CLOCK_AHEAD, ID_TAKEN, SERVER_OUTDATED, STREAM_FULL};
use crate::streams::store::cache::{Cache, Held, UNSAVED, bring_to_head};
use crate::streams::store::{self, Row, Stored};

/// An op that the server writes: a page's or a decision.
#[derive(Debug, Clone)]
pub struct Incoming {
    /// Its id: a page's form carries it, so that pressing twice is once.
    pub id: OpId,
    /// When it happened; not said: now.
    pub at: Option<At>,
    /// What happened.
    pub body: Body,
}

/// What became of one op.
#[derive(Debug)]
pub enum Outcome {
    /// Accepted, now or before, under this number.
    Accepted(OpId, u64),
    /// Refused; with what is stored under its id, if that is why.
    Refused(Option<Value>, Problem, Option<Stored>),
}

/// An op that is newly in the stream.
#[derive(Debug, Clone)]
pub struct Accepted {
    /// The op.
    pub op: Op,
    /// Its number.
    pub seq: u64,
}

/// What an append did.
#[derive(Debug)]
pub struct Appended {
    /// The stream's epoch.
    pub epoch: EpochId,
    /// Its head afterwards.
    pub head: u64,
    /// One outcome per op, in order.
    pub outcomes: Vec<Outcome>,
    /// What is new, decisions that followed included.
    pub accepted: Vec<Accepted>,
}

/// What comes in: over the wire, or written here.
pub enum Ops<'a> {
    /// Read from the wire, each by itself; and whose devices are registered. Both are known before anything is locked:
    /// a device never changes hands.
    Pushed(Vec<Told>, &'a HashMap<DeviceId, AccountId>),
    /// Written by the server.
    Written(Vec<Incoming>),
}

/// Appends ops that the server writes.
pub async fn append(w: &mut Write, stream: StreamId, ops: Vec<Incoming>, path: Path) -> Result<Appended> {
    run(w, stream, Ops::Written(ops), path).await
}

/// Brings projections up to date without any op: a stream whose fold version is older is folded anew first.
pub async fn touch_up(w: &mut Write, stream: StreamId) -> Result<Appended> {
    run(w, stream, Ops::Written(Vec::new()), Path::Decision(AccountId(uuid::Uuid::nil()))).await
}

/// Reads the state of a stream that this write has appended to; none if it has not.
pub fn in_write<T>(w: &mut Write, stream: StreamId, read: impl FnOnce(&Memory) -> T) -> Option<T> {
    let held = w.take_held::<Held>(|held| held.id == Some(stream))?;
    let answer = read(&held.memory);
    w.hold(held);
    Some(answer)
}

/// The append under the lock.
pub(super) async fn run(w: &mut Write, stream: StreamId, ops: Ops<'_>, path: Path) -> Result<Appended> {
    let (ctx, begun) = (w.ctx().clone(), Stopwatch::begin());
    let areas = ctx.part::<Areas>();
    let mut held = match w.take_held::<Held>(|held| held.id == Some(stream)) {
        Some(held) => held,
        None => ctx.part::<Cache>().hold(stream).await,
    };
    let mut row = store::stream_locked(w.tx(), stream).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let waited = w.waited() + begun.took();
    let fold_version = ctx.config.fold_version;
    if row.fold_version > fold_version {
        return Err(Problem::new(&SERVER_OUTDATED));
    }
    bring_to_head(&ctx, w.tx(), &mut held, &row).await?;
    if row.fold_version < fold_version {
        project_all(w, &areas, stream, &held).await?;
        row.fold_version = fold_version;
        store::set_head(w.tx(), &row).await?;
    }
    let (rows, handed_out) = Rows::new();
    let mut pass = Pass {
        stream,
        most: ctx.config.limits.ops_per_stream,
        path,
        received: next_received(w.now, row.last_received),
        outcomes: Vec::new(),
        accepted: Vec::new(),
        rows,
        before: BTreeMap::new(),
        jobs: Vec::new(),
    };
    let judging = async {
        let judged = pass.judge(w, &areas, &mut held, &mut row, ops).await;
        pass.rows.end();
        judged
    };
    // While the database writes ops, the next are judged and states are made.
    let (judged, written) = join(judging, write_ops(w, stream, handed_out)).await;
    written?;
    judged?;
    redact::apply(w, stream, &held.memory, &pass.accepted).await?;
    std::mem::take(&mut pass.jobs).into_iter().for_each(|job| w.enqueue(job));
    if !pass.accepted.is_empty() {
        held.head = row.head;
        held.chain = row.chain;
        ctx.part::<Cache>().weigh(stream, held.memory.weight());
        w.then(move |ctx| ctx.part::<Heads>().grew(stream));
    }
    let appended =
        Appended { epoch: row.epoch, head: row.head, outcomes: pass.outcomes, accepted: pass.accepted };
    w.hold(held);
    counted::append(w, path, begun, waited, &appended);
    Ok(appended)
}

/// One append while it goes on.
pub(super) struct Pass {
    pub(super) stream: StreamId,
    pub(super) path: Path,
    /// How many ops the stream may hold.
    most: u64,
    /// When all that is new is received.
    pub(super) received: Received,
    outcomes: Vec<Outcome>,
    pub(super) accepted: Vec<Accepted>,
    pub(super) rows: Rows,
    /// The states before, of everything that changed.
    pub(super) before: BTreeMap<Entity, Option<Arc<EntityState>>>,
    /// Work that follows.
    pub(super) jobs: Vec<Job>,
}

impl Pass {
    /// Judges ops, takes them in, and all that follows.
    async fn judge(
        &mut self,
        w: &Write,
        areas: &Areas,
        held: &mut Held,
        row: &mut Row,
        ops: Ops<'_>,
    ) -> Result<()> {
        match ops {
            Ops::Pushed(told, devices) => self.pushed(w, areas, held, row, told, devices).await?,
            Ops::Written(written) => self.written(w, areas, held, row, written).await?,
        }
        self.rows.hand_out(row);
        self.follow(w, areas, held, row).await
    }

    /// Ops from the wire: refused whole if a new one's clock runs ahead, else judged one by one.
    async fn pushed(
        &mut self,
        w: &Write,
        areas: &Areas,
        held: &mut Held,
        row: &mut Row,
        read: Vec<Told>,
        devices: &HashMap<DeviceId, AccountId>,
    ) -> Result<()> {
        let limit = clock_limit(w.now, row.greatest);
        let is_ahead =
            |r: &Ready| r.back.is_none() && r.op.clock > limit && held.memory.entry(r.op.id).is_none();
        if read.iter().flatten().any(is_ahead) {
            let now = Clock::at_ms(w.now);
            return Err(Problem::new(&CLOCK_AHEAD)
                .with("now", now.to_string())
                .with("limit", limit.to_string()));
        }
        let Some(account) = self.path.writer() else { return Err(Problem::new(&NOT_FOUND)) };
        let asked = quota::ask(w, account, &read, &held.memory).await?;
        // One that comes twice is compared with its first text, which must be at hand.
        let mut ids = HashSet::new();
        let whole = !read.iter().flatten().all(|ready| ids.insert(ready.op.id));
        let mut new = 0;
        for ready in read {
            if !whole && self.rows.hand_out_some(row) {
                yield_now().await;
            }
            let outcome = match ready {
                Err((id, problem)) => Outcome::Refused(id, problem, None),
                Ok(ready) => {
                    let first = ready.back.unwrap_or(Acceptance {
                        by: account.into(),
                        received: self.received,
                        decision: false,
                    });
                    let is_new = ready.back.is_none();
                    match met(w, held, areas, self, devices, &ready).await? {
                        Some(outcome) => outcome,
                        None => {
                            let outcome = self.take(held, row, ready, first);
                            new += i64::from(is_new && matches!(outcome, Outcome::Accepted(..)));
                            outcome
                        }
                    }
                }
            };
            self.outcomes.push(outcome);
        }
        quota::settle(w, account, asked - new).await
    }

    /// Ops that the server writes; a "no" to one of them is a "no" to the whole act.
    async fn written(
        &mut self,
        w: &Write,
        areas: &Areas,
        held: &mut Held,
        row: &Row,
        written: Vec<Incoming>,
    ) -> Result<()> {
        let (device, decision) = match self.path {
            Path::Decision(_) => (DeviceId::of_stream(self.stream), true),
            path => (DeviceId::of_pages(self.stream, path.by()), false),
        };
        let devices = HashMap::new();
        for incoming in written {
            if let Some(seq) = self.done_before(w, held, &incoming).await? {
                self.outcomes.push(Outcome::Accepted(incoming.id, seq));
                continue;
            }
            let ready =
                intake::write(incoming, device, held.memory.greatest_clock().max(row.greatest), w.now);
            match met(w, held, areas, self, &devices, &ready).await? {
                Some(Outcome::Refused(_, problem, _)) => {
                    counted::refused(w, self.path, &problem);
                    return Err(problem);
                }
                Some(outcome) => self.outcomes.push(outcome),
                None => {
                    let first = Acceptance { by: self.path.by(), received: self.received, decision };
                    let outcome = self.take(held, row, ready, first);
                    self.outcomes.push(outcome);
                }
            }
        }
        Ok(())
    }

    /// The same id, account and body is done already; so is the same decision.
    async fn done_before(&self, w: &Write, held: &Held, incoming: &Incoming) -> Result<Option<u64>> {
        let Some(entry) = held.memory.entry(incoming.id) else { return Ok(None) };
        let seq = entry.seq;
        let by = entry.accepted.map(|a| a.by);
        let same_body = match &entry.body {
            Some(body) => **body == incoming.body,
            None => {
                let stored = store::at(w.tx(), self.stream, seq).await?;
                let body = stored.and_then(|s| serde_json::from_str::<Value>(&s.text).ok());
                body.is_some_and(|op| op.get("body") == Some(&incoming.body.to_value()))
            }
        };
        let decided = matches!(self.path, Path::Decision(_));
        if same_body && entry.linked.decision == decided && (decided || by == Some(self.path.by())) {
            return Ok(Some(seq));
        }
        Err(Problem::new(&ID_TAKEN))
    }

    /// Takes an op in: memory now, rows when the pass is saved.
    pub(super) fn take(&mut self, held: &mut Held, row: &Row, ready: Ready, accepted: Acceptance) -> Outcome {
        let seq = row.head + self.rows.waiting.len() as u64 + 1;
        if seq > self.most {
            return Outcome::Refused(Some(json!(ready.op.id)), Problem::new(&STREAM_FULL), None);
        }
        let id = ready.op.id;
        held.head = UNSAVED;
        held.memory.insert_copy(&ready.op, ready.links, Some(accepted), seq);
        self.rows.waiting.push((
            id,
            ready.op.device.0,
            Stored { seq, text: ready.text, was: ready.was, accepted },
        ));
        self.accepted.push(Accepted { op: ready.op, seq });
        Outcome::Accepted(id, seq)
    }

    /// Folds what the ops taken in touch, once each.
    pub(super) fn refold(&mut self, held: &mut Held) {
        for (entity, before) in held.memory.refold() {
            self.before.entry(entity).or_insert(before);
        }
    }
}
