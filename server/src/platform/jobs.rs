//! Queued work: a row written in the transaction that wants it done, done later by a named handler.
//!
//! A handler works inside one write together with the mark that it is done, so its rows come true exactly once.
//! Handlers are registered in `app.rs`; what they do stands in the areas' `jobs.rs`. A *round* is a job whose one row
//! comes again and again.

use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use futures_util::future::LocalBoxFuture;
use sea_orm::ActiveValue::{NotSet, Set};
use sea_orm::sea_query::OnConflict;
use sea_orm::{
    ActiveModelTrait, ColumnTrait, EntityTrait, IntoActiveModel, PaginatorTrait, QueryFilter, QueryOrder,
    Select,
};
use serde_json::Value;
use tokio::sync::{Mutex, Notify, watch};
use uuid::Uuid;

use super::actor::Actor;
use super::ctx::Ctx;
use super::dialect;
use super::errors::Result;
use super::metrics::Metrics;
use super::write::{Write, write};
use crate::entities::jobs::{ActiveModel, Column, Entity, Model};

/// How often the queue is looked at without being woken: for timed jobs, and those of other processes.
const SWEEP: Duration = Duration::from_secs(1);
/// What the queue leaves to everybody else after each job, so that two hundred in a row make no push wait.
const BREATH: Duration = Duration::from_millis(3);
const LONGEST_WAIT_MS: i64 = 3_600_000;
const KEPT_MS: i64 = 7 * 86_400_000;

/// Work to be queued.
pub struct Job {
    kind: &'static str,
    payload: Value,
    not_before_ms: Option<i64>,
}

impl Job {
    /// Work for the handler of this name, as soon as the transaction is committed.
    pub fn new(kind: &'static str, payload: Value) -> Self {
        Self { kind, payload, not_before_ms: None }
    }

    /// Not before this time.
    pub fn not_before(mut self, ms: i64) -> Self {
        self.not_before_ms = Some(ms);
        self
    }

    pub(super) fn row(self, ctx: &Ctx, now: i64) -> ActiveModel {
        ActiveModel {
            id: Set(ctx.ids.new_id(now)),
            kind: Set(self.kind.to_owned()),
            payload: Set(self.payload.to_string()),
            not_before_ms: Set(self.not_before_ms.unwrap_or(now)),
            tries: Set(0),
            last_error: NotSet,
            made_ms: Set(now),
            done_ms: NotSet,
        }
    }
}

/// Does a job inside the given write.
pub type Handler = Arc<dyn for<'a> Fn(&'a mut Write, Value) -> LocalBoxFuture<'a, Result<()>> + Send + Sync>;

/// Every handler by the name of its job.
pub type Handlers = BTreeMap<&'static str, Handler>;

/// Jobs that come again and again: their names, and after how many milliseconds.
pub type Rounds = BTreeMap<&'static str, i64>;

/// The queue of this process.
#[derive(Default)]
pub struct Queue {
    handlers: OnceLock<Handlers>,
    rounds: OnceLock<Rounds>,
    woken: Notify,
    turn: Mutex<()>,
}

impl Queue {
    /// Names the handlers, and which of their jobs come again; once, in `app.rs`.
    pub fn register(&self, handlers: Handlers, rounds: Rounds) {
        assert!(rounds.keys().all(|kind| handlers.contains_key(kind)), "somebody does every round");
        assert!(self.handlers.set(handlers).is_ok(), "job handlers are registered once");
        assert!(self.rounds.set(rounds).is_ok(), "rounds are registered once");
    }

    /// There is something to do.
    pub fn wake(&self) {
        self.woken.notify_one();
    }

    fn handlers(&self) -> Option<&Handlers> {
        self.handlers.get()
    }

    /// Every kind of work that somebody does.
    pub fn kinds(&self) -> impl Iterator<Item = &'static str> {
        self.handlers.get().into_iter().flat_map(|handlers| handlers.keys().copied())
    }

    fn rounds(&self) -> impl Iterator<Item = (&'static str, i64)> {
        self.rounds.get().into_iter().flatten().map(|(kind, every_ms)| (*kind, *every_ms))
    }
}

/// Does jobs until `stop` says so.
pub async fn run(ctx: Ctx, mut stop: watch::Receiver<bool>) {
    if let Err(problem) = forget_old(&ctx).await {
        tracing::warn!(%problem, "old jobs are still there");
    }
    if let Err(problem) = begin_rounds(&ctx).await {
        tracing::warn!(%problem, "the rounds could not begin");
    }
    loop {
        loop {
            match run_next(&ctx).await {
                Ok(true) => tokio::time::sleep(BREATH).await,
                Ok(false) => break,
                Err(problem) => {
                    tracing::warn!(%problem, "the queue could not be read");
                    break;
                }
            }
        }
        tokio::select! {
            () = ctx.jobs.woken.notified() => {}
            () = tokio::time::sleep(SWEEP) => {}
            _ = stop.changed() => return,
        }
    }
}

/// Does everything that is due now. An action may call it after its commit when the answer should show what
/// followed; what fails stays queued.
pub async fn run_due(ctx: &Ctx) -> Result<()> {
    let _turn = ctx.jobs.turn.lock().await;
    while run_one(ctx).await? {}
    Ok(())
}

async fn run_next(ctx: &Ctx) -> Result<bool> {
    let _turn = ctx.jobs.turn.lock().await;
    run_one(ctx).await
}

/// Every round is due now: at a start, since the clock may have been set back meanwhile.
pub async fn begin_rounds(ctx: &Ctx) -> Result<()> {
    write(ctx, &Actor::Server, async |w| {
        for (kind, _) in ctx.jobs.rounds() {
            let row = ActiveModel { id: Set(round_id(kind)), ..Job::new(kind, Value::Null).row(ctx, w.now) };
            let again = OnConflict::column(Column::Id)
                .update_columns([Column::NotBeforeMs, Column::Tries])
                .value(Column::DoneMs, Option::<i64>::None)
                .to_owned();
            Entity::insert(row).on_conflict(again).exec_without_returning(w.tx()).await?;
        }
        Ok(())
    })
    .await
}

/// The one row of a round, in every process.
fn round_id(kind: &str) -> Uuid {
    Uuid::new_v5(&Uuid::NAMESPACE_URL, format!("tarn:round:{kind}").as_bytes())
}

/// False when nothing is due.
async fn run_one(ctx: &Ctx) -> Result<bool> {
    let Some(handlers) = ctx.jobs.handlers() else { return Ok(false) };
    // Looking first is cheap; opening a write for nothing every second is not.
    if due(handlers, ctx.clock.now_ms()).count(&ctx.db.conn).await? == 0 {
        return Ok(false);
    }
    let mut w = Write::begin(ctx, &Actor::Server).await?;
    let next = dialect::lock_rows_that_are_free(due(handlers, w.now), w.tx()).one(w.tx()).await?;
    let Some(job) = next else { return Ok(false) };
    match do_it(handlers, &mut w, &job).await {
        Ok(()) => {
            match ctx.jobs.rounds().find(|(kind, _)| *kind == job.kind) {
                Some((_, every_ms)) => come_again(&w, job, every_ms).await?,
                None => mark_done(&w, job).await?,
            }
            w.commit().await?;
        }
        Err(problem) => {
            w.roll_back().await;
            ctx.part::<Metrics>().job_failed(&job.kind);
            tracing::warn!(kind = job.kind, %problem, "a job failed and is tried again later");
            postpone(ctx, job, problem.to_string()).await?;
        }
    }
    Ok(true)
}

fn due(handlers: &Handlers, now: i64) -> Select<Entity> {
    Entity::find()
        .filter(Column::DoneMs.is_null())
        .filter(Column::NotBeforeMs.lte(now))
        .filter(Column::Kind.is_in(handlers.keys().copied()))
        .order_by_asc(Column::NotBeforeMs)
        .order_by_asc(Column::Id)
}

async fn do_it(handlers: &Handlers, w: &mut Write, job: &Model) -> Result<()> {
    let payload = serde_json::from_str(&job.payload).unwrap_or(Value::Null);
    match handlers.get(job.kind.as_str()) {
        Some(handler) => handler(w, payload).await,
        None => Ok(()),
    }
}

async fn mark_done(w: &Write, job: Model) -> Result<()> {
    let mut row = job.into_active_model();
    row.done_ms = Set(Some(w.now));
    row.update(w.tx()).await?;
    Ok(())
}

async fn come_again(w: &Write, job: Model, every_ms: i64) -> Result<()> {
    let mut row = job.into_active_model();
    row.not_before_ms = Set(w.now + every_ms);
    row.tries = Set(0);
    row.last_error = Set(None);
    row.update(w.tx()).await?;
    Ok(())
}

/// Waits twice as long after every failure, an hour at most.
async fn postpone(ctx: &Ctx, job: Model, error: String) -> Result<()> {
    write(ctx, &Actor::Server, async |w| {
        let tries = job.tries.saturating_add(1);
        let wait = 1000_i64
            .checked_shl(tries.unsigned_abs().min(20))
            .unwrap_or(LONGEST_WAIT_MS)
            .min(LONGEST_WAIT_MS);
        let mut row = job.clone().into_active_model();
        row.tries = Set(tries);
        row.last_error = Set(Some(error.clone()));
        row.not_before_ms = Set(w.now + wait);
        row.update(w.tx()).await?;
        Ok(())
    })
    .await
}

async fn forget_old(ctx: &Ctx) -> Result<()> {
    write(ctx, &Actor::Server, async |w| {
        Entity::delete_many().filter(Column::DoneMs.lt(w.now - KEPT_MS)).exec(w.tx()).await?;
        Ok(())
    })
    .await
}
