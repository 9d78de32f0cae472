//! Queued work: the digest of every morning, letters that somebody asked for, and what is kept for a while only.

use chrono::{Datelike, Weekday};
use serde_json::{Value, json};
use uuid::Uuid;

use super::actions::{next_morning, write_reset, write_sign_up};
use super::mail::{self, DigestOf};
use super::store;
use crate::platform::auth::IDLE_MS;
use crate::platform::day::{DAY, Wall};
use crate::platform::mail::queue;
use crate::platform::{Job, Result, Write, ahead, audit, messages};

/// The round that finds whose morning it is.
pub const ROUND: &str = "accounts.digests";
/// How often it comes.
pub const ROUND_MS: i64 = 5 * 60_000;
/// The round that forgets what is kept for a while only.
pub const RETENTION: &str = "accounts.retention";
/// How often it comes.
pub const RETENTION_MS: i64 = 86_400_000;
/// A month, as far as keeping goes.
const MONTH_MS: i64 = 30 * 86_400_000 + 86_400_000 / 2;
/// The job that makes one digest: `{account}`.
pub const DIGEST: &str = "accounts.digest";
/// The job that writes to somebody who forgot their password: `{asked}`, what it is about.
pub const RESET_ASKED: &str = "accounts.reset-asked";
/// The job that writes to somebody who wants an account: `{asked}`.
pub const SIGN_UP_ASKED: &str = "accounts.sign-up-asked";
/// The job that tells the clubs of somebody that they are of age, as their guardian says: `{account, guardian}`. It is
/// theirs to do.
pub const OF_AGE: &str = "accounts.of-age";
/// How far ahead a digest looks.
const AHEAD_S: i64 = 7 * DAY;

/// Queues the digests of whose morning it is.
pub async fn round(w: &mut Write, _: Value) -> Result<()> {
    if w.ctx().post.is_none() {
        return Ok(());
    }
    for account in store::digests_due(w.tx(), w.now).await? {
        w.enqueue(Job::new(DIGEST, json!({"account": account})));
    }
    Ok(())
}

/// Writes to somebody who forgot their password, if there is somebody.
pub async fn reset_asked(w: &mut Write, payload: Value) -> Result<()> {
    write_reset(w, payload).await
}

/// Writes to somebody who wants an account.
pub async fn sign_up_asked(w: &mut Write, payload: Value) -> Result<()> {
    write_sign_up(w, payload).await
}

/// Forgets where people were signed in, after as many months as the setting says; and links that are over.
pub async fn retention(w: &mut Write, _: Value) -> Result<()> {
    store::forget_links(w.tx(), w.now - RETENTION_MS).await?;
    let months = i64::from(w.ctx().config.sign_in_log_months);
    let forgotten = store::forget_sessions(w.tx(), w.now - months * MONTH_MS, w.now - IDLE_MS).await?;
    if forgotten > 0 {
        w.audit("accounts", format!("{forgotten} sessions older than {months} months forgotten"));
    }
    Ok(())
}

/// Makes a digest, if there is something to tell and it was not made already.
pub async fn digest(w: &mut Write, payload: Value) -> Result<()> {
    let id = payload.get("account").and_then(Value::as_str).and_then(|text| Uuid::parse_str(text).ok());
    let Some(id) = id else { return Ok(()) };
    let Some(mut row) = store::lock_telling(w.tx(), id).await? else { return Ok(()) };
    let person = store::account(w.tx(), id).await?.filter(|person| person.closed_ms.is_none());
    let Some(person) = person else { return Ok(()) };
    let is_proven = row.proven_email.as_ref() == Some(&person.email);
    if !row.digest || !is_proven || row.next_ms > w.now {
        return Ok(());
    }
    let zone = store::zone_of(w.tx(), id).await?;
    let wall = Wall::new(&zone, w.now);
    let new = messages::unread_between(w.tx(), id, row.told_ms, w.now).await?;
    let now_s = w.now.div_euclid(1000);
    let ahead: Vec<_> = ahead::of(w.ctx(), id)
        .await?
        .into_iter()
        .filter(|event| event.at_s > now_s && event.at_s <= now_s + AHEAD_S)
        .collect();
    // as the table of roles has it; what the roles mean is not this area's
    let is_secretary = |roles: &[String]| roles.iter().any(|role| role == "secretary");
    let clubs = store::clubs_of(w.tx(), id).await?.into_iter();
    let clubs: Vec<Uuid> = clubs.filter(|(_, roles)| is_secretary(roles)).map(|(club, _)| club.id).collect();
    let newest = if clubs.is_empty() { None } else { audit::newest(w.tx()).await? };
    let seal = newest.filter(|seal| seal.at_ms <= w.now).map(|seal| (seal, clubs));
    // What is a week off is told beside something else, and alone only on its last morning; a seal alone on Mondays.
    let is_monday = wall.calendar_day(now_s).weekday() == Weekday::Mon;
    let has_news = !new.is_empty() || ahead.iter().any(|event| event.at_s <= now_s + DAY);
    if has_news || (is_monday && seal.is_some()) {
        let site = w.ctx().config.public_url.clone().unwrap_or_default();
        let letter = Uuid::new_v5(&id, format!("digest:{}", row.next_ms).as_bytes());
        let of = DigestOf { person: &person, new: &new, ahead: &ahead, seal, wall, site: &site };
        queue(w, mail::digest(letter, &of)).await?;
    }
    (row.told_ms, row.next_ms) = (w.now, next_morning(&zone, w.now));
    store::save_telling(w.tx(), row).await
}
