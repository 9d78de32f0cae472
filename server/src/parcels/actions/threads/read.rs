//! A thread as one of its two reads it, and the list of somebody's threads.

use tarn_domain::streams::AccountId;
use uuid::Uuid;

use super::other;
use crate::accounts::actions::cursor;
use crate::entities::{swaps, thread_lines, threads::Model};
use crate::parcels::actions::notices;
use crate::parcels::store::{swaps as swap_store, threads as store};
use crate::platform::errors::NOT_FOUND;
use crate::platform::messages::Place;
use crate::platform::{Ctx, Problem, Result};
use crate::rooms;

/// How many lines are read at once.
const MOST: usize = 100;

/// A thread, as far back as was asked.
pub struct ThreadLook {
    /// Its row.
    pub row: Model,
    /// What is read of the other.
    pub with: String,
    /// The notice it is about, if the one who looks may read it now.
    pub notice: Option<Uuid>,
    /// Its lines, the oldest first.
    pub lines: Vec<thread_lines::Model>,
    /// Where older ones are.
    pub older: Option<String>,
    /// The swaps that came of it, the newest first.
    pub swaps: Vec<swaps::Model>,
}

/// A thread.
///
/// # Errors
/// `not-found` for who is no party.
pub async fn thread(ctx: &Ctx, account: AccountId, id: Uuid, before: Option<Place>) -> Result<ThreadLook> {
    let conn = &ctx.db.conn;
    let nothing = || Problem::new(&NOT_FOUND).detail("There is no thread with this id, or none of yours.");
    let row = store::thread(conn, id).await?.ok_or_else(nothing)?;
    let with = other(&row, account).ok_or_else(nothing)?;
    let with = rooms::store::people(conn, [with]).await?.remove(&with).unwrap_or_default();
    let mut lines = store::lines(conn, id, before, MOST as u64 + 1).await?;
    let more = lines.len() > MOST;
    lines.truncate(MOST);
    let older = lines.last().filter(|_| more).map(|line| cursor((line.made_ms, line.id)));
    lines.reverse();
    let notice = match row.notice {
        Some(notice) => match notices::read(ctx, account, notice).await {
            Ok(_) => Some(notice),
            Err(problem) if problem.kind() == &NOT_FOUND => None,
            Err(problem) => return Err(problem),
        },
        None => None,
    };
    Ok(ThreadLook { with, notice, lines, older, swaps: swap_store::of_thread(conn, id).await?, row })
}

/// A thread in a list.
pub struct Begun {
    /// Its row.
    pub row: Model,
    /// What is read of the other.
    pub with: String,
}

/// A piece of a list of threads.
pub struct Begins {
    /// Those last written in first.
    pub threads: Vec<Begun>,
    /// Where the list goes on.
    pub next: Option<String>,
}

/// Somebody's threads after a place.
pub async fn threads(ctx: &Ctx, account: AccountId, after: Option<Place>, most: usize) -> Result<Begins> {
    let mut rows = store::of_account(&ctx.db.conn, account, after, most as u64 + 1).await?;
    let more = rows.len() > most;
    rows.truncate(most);
    let next = rows.last().filter(|_| more).map(|row| cursor((row.last_ms, row.id)));
    Ok(Begins { threads: named(ctx, account, rows).await?, next })
}

/// The threads about a notice that its reader is a party to: all of them for its author.
pub async fn begun(ctx: &Ctx, account: AccountId, notice: Uuid) -> Result<Vec<Begun>> {
    let mut rows = store::of_notice(&ctx.db.conn, notice, 200).await?;
    rows.retain(|row| other(row, account).is_some());
    named(ctx, account, rows).await
}

async fn named(ctx: &Ctx, account: AccountId, rows: Vec<Model>) -> Result<Vec<Begun>> {
    let others = rows.iter().filter_map(|row| other(row, account));
    let names = rooms::store::people(&ctx.db.conn, others).await?;
    let named = |row: Model| {
        let with = other(&row, account).and_then(|with| names.get(&with).cloned());
        Begun { with: with.unwrap_or_default(), row }
    };
    Ok(rows.into_iter().map(named).collect())
}
