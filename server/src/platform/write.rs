//! The one write path: everything that changes a row goes through here, all or nothing.
//!
//! ```text
//! write(&ctx, &actor, async |w| { … w.tx() … w.audit("clubs", …) … w.enqueue(job) … Ok(answer) })
//! ```
//! SQLite: one writer at a time in the process, then `BEGIN IMMEDIATE`. PostgreSQL: READ COMMITTED with explicit
//! row locks, and a bounded retry when two transactions stood in each other's way; so the closure may run more than
//! once and must not have effects outside the database. No rules stand here.

use std::any::Any;
use std::time::Duration;

use sea_orm::{
    DatabaseTransaction, EntityTrait, SqliteTransactionMode, TransactionOptions, TransactionTrait,
};
use tokio::sync::OwnedMutexGuard;
use uuid::Uuid;

use super::actor::Actor;
use super::audit::{self, Fact};
use super::ctx::Ctx;
use super::errors::{Problem, Result};
use super::jobs::Job;
use super::metrics::Stopwatch;
use crate::entities::jobs;

/// How often a transaction is run when others are in its way.
const TRIES: usize = 5;

/// What is done in this process once a write is kept.
type Told = Box<dyn FnOnce(&Ctx) + Send>;

/// An open write. Dropped without [`Write::commit`] it leaves no trace.
pub struct Write {
    /// The time of everything in it, milliseconds.
    pub now: i64,
    /// Who does it.
    pub actor: Actor,
    ctx: Ctx,
    facts: Vec<Fact>,
    jobs: Vec<Job>,
    then: Vec<Told>,
    waited: Duration,
    // The order matters: the transaction ends before the next writer is let in.
    tx: DatabaseTransaction,
    _writer: Option<OwnedMutexGuard<()>>,
    held: Vec<Box<dyn Any + Send>>,
}

/// Runs the closure in a transaction and commits it; on a "no" nothing is changed.
pub async fn write<T>(
    ctx: &Ctx,
    actor: &Actor,
    mut work: impl AsyncFnMut(&mut Write) -> Result<T>,
) -> Result<T> {
    let mut tries = 1;
    loop {
        match attempt(ctx, actor, &mut work).await {
            Err(problem) if problem.is_worth_a_retry() && tries < TRIES => tries += 1,
            answer => return answer,
        }
    }
}

async fn attempt<T>(
    ctx: &Ctx,
    actor: &Actor,
    work: &mut impl AsyncFnMut(&mut Write) -> Result<T>,
) -> Result<T> {
    let mut w = Write::begin(ctx, actor).await?;
    match work(&mut w).await {
        Ok(answer) => w.commit().await.map(|()| answer),
        Err(problem) => {
            w.roll_back().await;
            Err(problem)
        }
    }
}

impl Write {
    /// Opens a write. Prefer [`write()`], which also retries.
    #[allow(clippy::disallowed_methods, reason = "this is the one write path")]
    pub async fn begin(ctx: &Ctx, actor: &Actor) -> Result<Self> {
        let begun = Stopwatch::begin();
        let writer = ctx.db.writer().await;
        let options = TransactionOptions {
            isolation_level: None,
            sqlite_transaction_mode: writer.is_some().then_some(SqliteTransactionMode::Immediate),
            access_mode: None,
        };
        let tx = ctx.db.writes.begin_with_options(options).await?;
        Ok(Self {
            now: ctx.clock.now_ms(),
            actor: actor.clone(),
            ctx: ctx.clone(),
            facts: vec![],
            jobs: vec![],
            then: vec![],
            waited: begun.took(),
            tx,
            _writer: writer,
            held: vec![],
        })
    }

    /// How long it waited before it could begin: for the one writer of SQLite, for a connection of PostgreSQL.
    pub fn waited(&self) -> Duration {
        self.waited
    }

    /// The transaction, for stores.
    pub fn tx(&self) -> &DatabaseTransaction {
        &self.tx
    }

    /// The process's context.
    pub fn ctx(&self) -> &Ctx {
        &self.ctx
    }

    /// Records that something was done. Accounts are named by id, nothing personal is written out.
    pub fn audit(&mut self, area: &'static str, fact: impl Into<String>) {
        self.facts.push(Fact { area, club: None, text: fact.into() });
    }

    /// The same of a club: its secretaries read it.
    pub fn audit_of(&mut self, club: Uuid, area: &'static str, fact: impl Into<String>) {
        self.facts.push(Fact { area, club: Some(club), text: fact.into() });
    }

    /// Queues work that is done after the commit, or never.
    pub fn enqueue(&mut self, job: Job) {
        self.jobs.push(job);
    }

    /// What this process is told once everything is kept, or never. It can't fail, and nothing may rest on it: the process
    /// may end in between.
    pub fn then(&mut self, told: impl FnOnce(&Ctx) + Send + 'static) {
        self.then.push(Box::new(told));
    }

    /// Keeps a guard until the write has ended, so that nobody sees what it guards before the commit.
    pub fn hold(&mut self, guard: impl Any + Send) {
        self.held.push(Box::new(guard));
    }

    /// Takes back a guard that is held.
    pub fn take_held<T: Any>(&mut self, which: impl Fn(&T) -> bool) -> Option<T> {
        let i = self.held.iter().position(|guard| guard.downcast_ref().is_some_and(&which))?;
        self.held.swap_remove(i).downcast().ok().map(|guard| *guard)
    }

    /// Keeps everything.
    pub async fn commit(mut self) -> Result<()> {
        self.save_facts().await?;
        let queued = self.save_jobs().await?;
        self.tx.commit().await?;
        if queued {
            self.ctx.jobs.wake();
        }
        self.then.drain(..).for_each(|told| told(&self.ctx));
        Ok(())
    }

    /// Keeps nothing. The same as dropping it, but done when it returns.
    pub async fn roll_back(self) {
        if let Err(err) = self.tx.rollback().await {
            tracing::warn!(%err, "rolling back failed; the connection is dropped");
        }
    }

    async fn save_facts(&mut self) -> Result<()> {
        for fact in std::mem::take(&mut self.facts) {
            audit::save(&self.tx, fact, self.now, &self.actor, self.ctx.ids.bytes()).await?;
        }
        Ok(())
    }

    async fn save_jobs(&mut self) -> Result<bool> {
        let rows: Vec<_> =
            std::mem::take(&mut self.jobs).into_iter().map(|job| job.row(&self.ctx, self.now)).collect();
        if rows.is_empty() {
            return Ok(false);
        }
        jobs::Entity::insert_many(rows).exec_without_returning(&self.tx).await.map_err(Problem::from)?;
        Ok(true)
    }
}
