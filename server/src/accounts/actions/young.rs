//! Members under age: their guardian has made the account, agrees to it, and answers for it. Others read a word in the
//! place of their name; what is told to them is told to the guardian too.

use std::net::IpAddr;

use futures_util::FutureExt;
use futures_util::future::LocalBoxFuture;
use serde_json::{Value, json};
use tarn_domain::accounts::{Age, YOUNG_NAME};
use uuid::Uuid;

use super::super::{refusals, store};
use super::account::{Shown, is_strong, own_names, proven, still_proven};
use super::codes;
use super::leaving::{close, own_data};
use super::passwords;
use crate::accounts::jobs::OF_AGE;
use crate::entities::{accounts, sessions, young_accounts};
use crate::platform::auth::SignedIn;
use crate::platform::errors::NOT_FOUND;
use crate::platform::messages::{self, Copied, Line};
use crate::platform::{Ctx, Job, Problem, Result, Write, write};

/// For how many one account answers at most: more is no family.
const MOST_YOUNG: u64 = 6;

/// Somebody for whom the caller answers.
pub struct Ward {
    /// What is kept of it.
    pub young: young_accounts::Model,
    /// Their account.
    pub account: accounts::Model,
    /// Where they are signed in.
    pub sessions: Vec<sessions::Model>,
}

/// Those for whom somebody answers.
pub async fn wards(ctx: &Ctx, guardian: Uuid) -> Result<Vec<Ward>> {
    let conn = &ctx.db.conn;
    let mut all = Vec::new();
    for young in store::young_of(conn, guardian).await? {
        if let Some(account) = store::account(conn, young.account).await? {
            let sessions = store::sessions_of(conn, account.id).await?;
            all.push(Ward { young, account, sessions });
        }
    }
    Ok(all)
}

/// Whether an account stands for itself.
pub async fn age_of(ctx: &Ctx, account: Uuid) -> Result<Age> {
    Ok(Age::of(store::young(&ctx.db.conn, account).await?.is_some()))
}

/// The account is a young one's from now on: a word takes the place of its name, and its guardian answers for it.
///
/// # Errors
/// `by-guardian` for who is young themselves.
pub async fn is_young(w: &mut Write, account: &accounts::Model, guardian: Uuid) -> Result<()> {
    let answers = Age::of(store::young(w.tx(), guardian).await?.is_some()).may_answer_for_others();
    if !answers {
        return Err(Problem::new(&refusals::BY_GUARDIAN));
    }
    // who closes their account holds it: nobody is left with a guardian who is gone
    let there = store::lock_account(w.tx(), guardian).await?;
    there.filter(|there| there.closed_ms.is_none()).ok_or_else(|| Problem::new(&NOT_FOUND))?;
    if store::count_young_of(w.tx(), guardian).await? >= MOST_YOUNG {
        return Err(Problem::new(&refusals::TOO_MANY_YOUNG));
    }
    let row = young_accounts::Model {
        account: account.id,
        guardian,
        name: account.shown_name.clone(),
        since_ms: w.now,
    };
    store::insert_young(w.tx(), row).await?;
    store::set_shown_name(w.tx(), account.id, YOUNG_NAME).await?;
    w.audit("accounts", format!("account {guardian} answers for account {}, which is young", account.id));
    Ok(())
}

async fn ward(w: &Write, guardian: Uuid, account: Uuid) -> Result<(young_accounts::Model, accounts::Model)> {
    let nothing = || Problem::new(&NOT_FOUND).detail("You answer for nobody with this account.");
    let young = store::young(w.tx(), account).await?.filter(|young| young.guardian == guardian);
    let young = young.ok_or_else(nothing)?;
    let person = store::lock_account(w.tx(), account).await?.ok_or_else(nothing)?;
    Ok((young, person))
}

/// They are of age: they get their name back, and stand for themselves.
///
/// # Errors
/// `not-found` for whom the caller does not answer.
pub async fn of_age(ctx: &Ctx, who: &SignedIn, account: Uuid) -> Result<()> {
    write(ctx, &who.actor(), async |w| {
        let (young, _) = ward(w, who.account, account).await?;
        // the clubs are told: from now on this is a member like others
        w.enqueue(Job::new(OF_AGE, json!({"account": account, "guardian": who.account})));
        grown(w, &young).await
    })
    .await
}

/// The same, said by an officer, who is asked for elsewhere.
pub async fn grown(w: &mut Write, young: &young_accounts::Model) -> Result<()> {
    store::set_shown_name(w.tx(), young.account, &young.name).await?;
    store::end_young(w.tx(), young.account).await?;
    let fact = format!("accounts:of-age:{}", w.ctx().ids.new_id(w.now));
    let text = format!(
        "You are of age here from now on: others read your name, {}. Take a password that only you know.",
        young.name
    );
    let href = Some("/account".to_owned());
    messages::tell(w, Line { account: young.account, fact: &fact, text: &text, href }).await?;
    let text = format!("{} is of age here from now on: you answer for them no longer.", young.name);
    messages::tell(w, Line { account: young.guardian, fact: &fact, text: &text, href: None }).await?;
    w.audit("accounts", format!("account {} is of age", young.account));
    Ok(())
}

/// Ends every session of a young one.
///
/// # Errors
/// `not-found` for whom the caller does not answer.
pub async fn end_sessions_of_young(ctx: &Ctx, who: &SignedIn, account: Uuid) -> Result<()> {
    write(ctx, &who.actor(), async |w| {
        ward(w, who.account, account).await?;
        store::end_sessions_but(w.tx(), account, None, w.now).await?;
        store::end_pending(w.tx(), account).await?;
        w.audit("accounts", format!("sessions of account {account} ended by its guardian"));
        Ok(())
    })
    .await
}

/// Another password for a young one, by their guardian, who shows their own; every session of it ends.
///
/// # Errors
/// `not-found`, `sign-in-failed`, `password-weak`, `too-many-tries`, `busy-now`.
pub async fn new_password_of_young(
    ctx: &Ctx,
    who: &SignedIn,
    address: IpAddr,
    account: Uuid,
    (own, new): (Shown<'_>, &str),
) -> Result<()> {
    let guardian = proven(ctx, who, address, own.password, "/password").await?;
    let conn = &ctx.db.conn;
    let young = store::young(conn, account).await?.filter(|young| young.guardian == who.account);
    let person = store::account(conn, account).await?.filter(|_| young.is_some());
    let person = person.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    is_strong(new, &own_names(conn, &person).await?, store::has_factor(conn, account).await?)?;
    let (code, throttled) = codes::begin(ctx, &guardian, address, own.code).await?;
    let hash = passwords::hash(ctx, new).await?;
    write(ctx, &who.actor(), async |w| {
        still_proven(w, &guardian, "/password").await?;
        codes::take_where_wanted(w, guardian.id, code).await?;
        ward(w, who.account, account).await?;
        store::set_password(w.tx(), account, &hash).await?;
        store::end_sessions_but(w.tx(), account, None, w.now).await?;
        store::end_pending(w.tx(), account).await?;
        store::end_links(w.tx(), account, w.now).await?;
        w.audit("accounts", format!("password of account {account} changed by its guardian"));
        Ok(())
    })
    .await?;
    codes::forgive(throttled);
    Ok(())
}

/// Everything the server keeps of a young one, for their guardian.
///
/// # Errors
/// `not-found` for whom the caller does not answer.
pub async fn data_of_young(ctx: &Ctx, guardian: Uuid, account: Uuid) -> Result<Value> {
    let young = store::young(&ctx.db.conn, account).await?;
    young.filter(|young| young.guardian == guardian).ok_or_else(|| Problem::new(&NOT_FOUND))?;
    own_data(ctx, account).await
}

/// Closes the account of a young one, for their guardian, who shows their own password.
///
/// # Errors
/// `not-found`, `sign-in-failed`, `too-many-tries`, and what an area has against it.
pub async fn close_young(
    ctx: &Ctx,
    who: &SignedIn,
    address: IpAddr,
    account: Uuid,
    own: Shown<'_>,
) -> Result<()> {
    let guardian = proven(ctx, who, address, own.password, "/password").await?;
    let young = store::young(&ctx.db.conn, account).await?;
    young.filter(|young| young.guardian == who.account).ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let (code, throttled) = codes::begin(ctx, &guardian, address, own.code).await?;
    write(ctx, &who.actor(), async |w| {
        still_proven(w, &guardian, "/password").await?;
        codes::take_where_wanted(w, guardian.id, code).await?;
        let (_, person) = ward(w, who.account, account).await?;
        close(w, &person).await
    })
    .await?;
    codes::forgive(throttled);
    Ok(())
}

/// Who reads along what an account is told, and whom it is about; for `app.rs`.
pub fn reads_along(w: &Write, account: Uuid) -> LocalBoxFuture<'_, Result<Option<Copied>>> {
    async move { Ok(store::young(w.tx(), account).await?.map(copied)) }.boxed_local()
}

pub(super) fn copied(young: young_accounts::Model) -> Copied {
    Copied { account: young.guardian, about: young.name, href: "/account/young" }
}
