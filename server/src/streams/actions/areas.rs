//! What the areas register: who may write a stream, what they refuse, which rows they keep of a state, what
//! follows from an op. Function pointers only; no area is named here.

use std::sync::Arc;

use futures_util::future::LocalBoxFuture;
use sea_orm::{DatabaseConnection, DatabaseTransaction};
use sha2::{Digest, Sha256};
use tarn_domain::catalogue::{Body, Op};
use tarn_domain::state::{EntityState, Entry, Memory};
use tarn_domain::streams::{AccountId, At, By, Entity, OpId, StreamId};

use crate::platform::jobs::Job;
use crate::platform::{Result, errors::Problem};

/// What an account may do with a stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Right {
    /// Pull.
    Read,
    /// Pull and push.
    Write,
}

/// The answer of an access function.
pub type AccessFuture<'a> = LocalBoxFuture<'a, Result<Option<Right>>>;

/// An op that is about to be accepted.
pub struct Judging<'a> {
    /// Which stream.
    pub stream: StreamId,
    /// The state with everything before the op in it.
    pub memory: &'a Memory,
    /// The op.
    pub op: &'a Op,
    /// The server's time, to the second.
    pub now: At,
    /// It happened while the room was kept on another server: what may be done here is not asked.
    pub brought: bool,
}

/// A thing whose state changed.
pub struct Changed {
    /// Which.
    pub entity: Entity,
    /// Its state before, if it had one.
    pub before: Option<Arc<EntityState>>,
    /// Its state now.
    pub after: Arc<EntityState>,
}

/// States that changed, to be kept in rows.
pub struct Projecting<'a> {
    /// Which stream.
    pub stream: StreamId,
    /// The transaction.
    pub tx: &'a DatabaseTransaction,
    /// The state with all of it.
    pub memory: &'a Memory,
    /// What changed.
    pub changed: &'a [Changed],
    /// Everything is made anew: whatever rows the stream has go first.
    pub anew: bool,
}

/// A decision that follows from an accepted op.
pub struct Follow {
    /// Its id: the same whenever it is decided again.
    pub id: OpId,
    /// When it holds.
    pub at: At,
    /// What it says.
    pub body: Body,
    /// Work that it queues.
    pub job: Option<Job>,
}

/// An op that was just accepted.
pub struct Following<'a> {
    /// Which stream.
    pub stream: StreamId,
    /// The state with the op in it.
    pub memory: &'a Memory,
    /// The op.
    pub op: &'a Op,
    /// Whose it is.
    pub by: By,
    /// Whether it was accepted before, and came back with its receipt after a restore.
    pub is_back: bool,
    /// Whether it is the last of all that are accepted together: what follows from all of them follows here.
    pub is_last: bool,
    /// The server's time, to the second.
    pub now: At,
    /// The transaction.
    pub tx: &'a DatabaseTransaction,
}

/// Everything the areas registered, each list in ladder order.
#[derive(Clone, Default)]
pub struct Areas {
    /// Who may do what with a stream of a kind.
    pub access: Vec<(&'static str, AccessFn)>,
    /// Who may take in what somebody wrote who may no longer write: besides those who write the stream.
    pub adopters: Vec<(&'static str, AdoptFn)>,
    /// Which streams an account may pull.
    pub listers: Vec<ListFn>,
    /// What is refused, by kind of op.
    pub deciders: Vec<(&'static str, DecideFn)>,
    /// What is refused because of what other streams hold, by kind of op.
    pub asked: Vec<(&'static str, AskFn)>,
    /// Which entries can't be taken back because of what other streams hold.
    pub fixed: Vec<FixedFn>,
    /// Which rows are kept.
    pub projectors: Vec<ProjectFn>,
    /// What follows.
    pub followers: Vec<FollowFn>,
    /// Work that an accepted op queues. What came back after a restore sends nothing out again; but what the server
    /// decided of it for another room may be lost, and is decided again.
    pub news: Vec<NewsFn>,
    /// Compares the rows that are kept with the state; says what differs.
    pub checkers: Vec<CheckFn>,
    /// Takes out what is kept of a stream that is removed for good; or refuses that.
    pub removers: Vec<RemoveFn>,
}

/// Who may do what.
pub type AccessFn = for<'a> fn(&'a DatabaseConnection, AccountId, StreamId) -> AccessFuture<'a>;
/// Whether an account may adopt.
pub type AdoptFn =
    for<'a> fn(&'a DatabaseConnection, AccountId, StreamId) -> LocalBoxFuture<'a, Result<bool>>;
/// The streams of an account, with their names.
pub type ListFn = for<'a> fn(
    &'a DatabaseConnection,
    AccountId,
) -> LocalBoxFuture<'a, Result<Vec<(StreamId, String, Right)>>>;
/// Judges an op.
pub type DecideFn = fn(&Judging<'_>) -> Result<(), Problem>;
/// Judges an op against what other streams hold.
pub type AskFn =
    for<'a> fn(&'a DatabaseTransaction, &'a Judging<'a>) -> LocalBoxFuture<'a, Result<Result<(), Problem>>>;
/// Whether an entry can't be taken back.
pub type FixedFn =
    for<'a> fn(&'a DatabaseTransaction, StreamId, &'a Entry, &'a Memory) -> LocalBoxFuture<'a, Result<bool>>;
/// Queues work.
pub type NewsFn = for<'a> fn(&'a Following<'a>) -> LocalBoxFuture<'a, Result<Vec<Job>>>;
/// Keeps rows.
pub type ProjectFn = for<'a> fn(&'a Projecting<'a>) -> LocalBoxFuture<'a, Result<()>>;
/// Decides what follows.
pub type FollowFn = for<'a> fn(&'a Following<'a>) -> LocalBoxFuture<'a, Result<Vec<Follow>>>;
/// Takes out the rows of a stream.
pub type RemoveFn = for<'a> fn(&'a DatabaseTransaction, StreamId) -> LocalBoxFuture<'a, Result<()>>;
/// Compares rows and state.
pub type CheckFn =
    for<'a> fn(&'a DatabaseTransaction, StreamId, &'a Memory) -> LocalBoxFuture<'a, Result<Vec<String>>>;

/// The id of the decision of a kind that follows from an op: of the same millisecond (RFC 9562, version 7), the rest a
/// digest; so that deciding it again, after a restore, is the same decision.
pub fn following_id(op: OpId, kind: &str) -> OpId {
    let digest = Sha256::new().chain_update(op.0.as_bytes()).chain_update(kind.as_bytes()).finalize();
    let mut bytes = *op.0.as_bytes();
    bytes[6..].copy_from_slice(&digest[..10]);
    bytes[6] = (bytes[6] & 0x0f) | 0x70;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    OpId(uuid::Uuid::from_bytes(bytes))
}
