//! Whether somebody wants a digest by mail. It goes only to an address whose owner has said so: a letter with a
//! single-use link asks first.

use uuid::Uuid;

use super::super::{mail, refusals, store};
use crate::entities::{account_telling, accounts};
use crate::platform::auth::SignedIn;
use crate::platform::day::Wall;
use crate::platform::errors::NOT_FOUND;
use crate::platform::mail::queue;
use crate::platform::{Actor, Ctx, Problem, Result, Write, write};

/// When a digest is made, by the clock of the room.
pub const MORNING: u32 = 7;
const PROOF_GOOD_FOR_MS: i64 = 2 * 86_400_000;
/// A letter that asks is not sent again at once: nobody's mailbox is filled from here.
const ASKED_AGAIN_MS: i64 = 10 * 60_000;

/// How the digest of an account stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Digest {
    /// Nobody wants one.
    Off,
    /// A letter asks whether the address is right.
    Asked,
    /// It comes at this time next, in milliseconds, if there is something to tell.
    On(i64),
}

/// How an account is told.
pub struct Telling {
    /// The digest.
    pub digest: Digest,
    /// The zone by whose morning it is made.
    pub zone: String,
    /// Whether this server sends mail at all.
    pub has_mail: bool,
    /// Since when there is a calendar, in milliseconds.
    pub calendar_ms: Option<i64>,
}

/// How an account is told.
pub async fn telling(ctx: &Ctx, account: Uuid) -> Result<Telling> {
    let conn = &ctx.db.conn;
    let person = store::account(conn, account).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let row = store::telling(conn, account).await?.unwrap_or_else(|| untold(account, 0));
    Ok(Telling {
        digest: standing(&row, &person),
        zone: store::zone_of(conn, account).await?,
        has_mail: ctx.post.is_some(),
        calendar_ms: store::calendar(conn, account).await?.map(|feed| feed.made_ms),
    })
}

fn standing(row: &account_telling::Model, person: &accounts::Model) -> Digest {
    match (row.digest, row.proven_email.as_ref() == Some(&person.email)) {
        (false, _) => Digest::Off,
        (true, true) => Digest::On(row.next_ms),
        (true, false) => Digest::Asked,
    }
}

pub(super) fn untold(account: Uuid, now: i64) -> account_telling::Model {
    account_telling::Model {
        account,
        digest: false,
        proven_email: None,
        proof_hash: None,
        proof_expires_ms: None,
        told_ms: now,
        next_ms: now,
    }
}

/// Turns the digest on or off. On: at once for an address that is proven, otherwise when its owner has said so.
///
/// # Errors
/// `no-mail` when this server sends none, `invalid` for who has given no address.
pub async fn set_digest(ctx: &Ctx, who: &SignedIn, on: bool) -> Result<()> {
    if on && ctx.post.is_none() {
        return Err(Problem::new(&refusals::NO_MAIL));
    }
    write(ctx, &who.actor(), async |w| {
        // the address that is asked about is the one that stands there when the letter is queued
        let person = store::lock_account(w.tx(), who.account).await?;
        let person = person.ok_or_else(|| Problem::new(&NOT_FOUND))?;
        if on && person.email.is_empty() {
            return Err(refusals::not_taken("/on", "Give an address first, on the page of your account."));
        }
        let row = store::lock_telling(w.tx(), who.account).await?;
        let mut row = row.unwrap_or_else(|| untold(who.account, w.now));
        match (on, row.proven_email.as_ref() == Some(&person.email)) {
            (false, _) => (row.digest, row.proof_hash, row.proof_expires_ms) = (false, None, None),
            (true, true) if row.digest => return Ok(()),
            (true, true) => begin(w, &mut row).await?,
            (true, false) => {
                row.digest = true;
                if !was_asked_lately(&row, w.now) {
                    ask(w, &mut row, &person).await?;
                }
            }
        }
        store::save_telling(w.tx(), row).await?;
        let what = if on { "on" } else { "off" };
        w.audit("accounts", format!("account {} turned its digest {what}", who.account));
        Ok(())
    })
    .await
}

fn was_asked_lately(row: &account_telling::Model, now: i64) -> bool {
    row.proof_expires_ms.is_some_and(|until| until - PROOF_GOOD_FOR_MS > now - ASKED_AGAIN_MS)
}

async fn ask(w: &Write, row: &mut account_telling::Model, person: &accounts::Model) -> Result<()> {
    let token = store::secret_text(&w.ctx().ids.bytes());
    row.proof_hash = Some(store::secret_hash(&token));
    row.proof_expires_ms = Some(w.now + PROOF_GOOD_FOR_MS);
    let site = w.ctx().config.public_url.clone().unwrap_or_default();
    queue(w, mail::asks(w.ctx().ids.new_id(w.now), person, &site, &token)).await
}

/// The first digest tells what comes from now on.
pub(super) async fn begin(w: &Write, row: &mut account_telling::Model) -> Result<()> {
    row.digest = true;
    row.told_ms = w.now;
    row.next_ms = next_morning(&store::zone_of(w.tx(), row.account).await?, w.now);
    Ok(())
}

/// The next morning of a zone, in milliseconds.
pub fn next_morning(zone: &str, now: i64) -> i64 {
    Wall::new(zone, now).next(MORNING).saturating_mul(1000)
}

/// The address in the letter that asked, for the page that its link opens; nothing is used by looking.
///
/// # Errors
/// `not-found` for a token that is wrong, used, or too old.
pub async fn asked_address(ctx: &Ctx, token: &str) -> Result<String> {
    let row = store::telling_by_proof(&ctx.db.conn, &store::secret_hash(token)).await?;
    let row = row.filter(|row| is_good(row, ctx.clock.now_ms())).ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let person = store::account(&ctx.db.conn, row.account).await?;
    Ok(person.ok_or_else(|| Problem::new(&NOT_FOUND))?.email)
}

/// The owner of the address says that mail may come.
///
/// # Errors
/// `not-found` for a token that is wrong, used, or too old.
pub async fn prove_address(ctx: &Ctx, token: &str) -> Result<()> {
    write(ctx, &Actor::Server, async |w| {
        let (hash, nothing) = (store::secret_hash(token), || Problem::new(&NOT_FOUND));
        let whose = store::telling_by_proof(w.tx(), &hash).await?.ok_or_else(nothing)?.account;
        // the account first, as everybody does who changes an address: a letter went to the one that still stands
        let person = store::lock_account(w.tx(), whose).await?.ok_or_else(nothing)?;
        let row = store::lock_telling_by_proof(w.tx(), &hash).await?;
        let mut row = row.filter(|row| is_good(row, w.now)).ok_or_else(nothing)?;
        (row.proof_hash, row.proof_expires_ms) = (None, None);
        row.proven_email = Some(person.email);
        begin(w, &mut row).await?;
        w.audit("accounts", format!("mail to account {} was agreed to by its owner", row.account));
        store::save_telling(w.tx(), row).await
    })
    .await
}

fn is_good(row: &account_telling::Model, now: i64) -> bool {
    row.digest && row.proof_expires_ms.is_some_and(|until| now < until)
}
