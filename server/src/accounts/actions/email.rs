//! The address of an account: set by its owner, and good for nothing before a link in a letter has shown that it is
//! theirs.

use std::net::IpAddr;

use tarn_domain::accounts::Email;

use super::super::{mail, refusals, store};
use super::account::{proven, still_proven};
use super::codes;
use super::letters::{self, Purpose};
use super::telling::{begin, untold};
use crate::entities::accounts;
use crate::platform::auth::SignedIn;
use crate::platform::errors::NOT_FOUND;
use crate::platform::mail::queue;
use crate::platform::messages::{self, Line};
use crate::platform::{Actor, Ctx, Problem, Result, Write, write};

/// An address to take the place of another.
pub struct NewEmail<'a> {
    /// As it was typed; empty for none.
    pub email: &'a str,
    /// The caller's password.
    pub password: &'a str,
    /// The code, where there is a second factor.
    pub code: Option<&'a str>,
}

/// Another address, or none. It is proven by a link in a letter to it; whoever has the one of before is told there.
///
/// # Errors
/// `invalid`, `sign-in-failed`, `second-factor-needed`, `code-wrong`, `too-many-tries`, `busy-now`.
pub async fn set_email(ctx: &Ctx, who: &SignedIn, address: IpAddr, wanted: NewEmail<'_>) -> Result<()> {
    let account = proven(ctx, who, address, wanted.password, "/password").await?;
    let email = match wanted.email.trim() {
        "" => String::new(),
        text => Email::parse(text).map_err(|why| refusals::not_taken("/email", why))?.as_str().to_owned(),
    };
    let (code, throttled) = codes::begin(ctx, &account, address, wanted.code).await?;
    write(ctx, &who.actor(), async |w| {
        let before = still_proven(w, &account, "/password").await?;
        codes::take_where_wanted(w, who.account, code).await?;
        if before.email == email {
            return send_proof(w, &before).await;
        }
        let was_proven = store::is_proven(w.tx(), &before).await?;
        if was_proven && w.ctx().post.is_some() {
            let site = w.ctx().config.public_url.clone().unwrap_or_default();
            queue(w, mail::address_changed(w.ctx().ids.new_id(w.now), &before, &site)).await?;
        }
        if let Some(mut row) = store::lock_telling(w.tx(), who.account).await? {
            // a letter that asked went to the address of before
            (row.proven_email, row.proof_hash, row.proof_expires_ms) = (None, None, None);
            row.digest = row.digest && !email.is_empty();
            store::save_telling(w.tx(), row).await?;
        }
        store::set_email(w.tx(), who.account, &email).await?;
        let fact = format!("accounts:email:{}", w.ctx().ids.new_id(w.now));
        let text = "Your e-mail address was changed. If it was not you, change your password.";
        let href = Some("/account".to_owned());
        messages::tell(w, Line { account: who.account, fact: &fact, text, href }).await?;
        w.audit("accounts", format!("address of account {} changed", who.account));
        send_proof(w, &accounts::Model { email: email.clone(), ..before }).await
    })
    .await?;
    codes::forgive(throttled);
    Ok(())
}

/// The letter that proves an address, once more; few in a day, however often it is asked for.
///
/// # Errors
/// `no-mail`; `invalid` for who has no address.
pub async fn ask_for_proof(ctx: &Ctx, who: &SignedIn) -> Result<()> {
    if ctx.post.is_none() {
        return Err(Problem::new(&refusals::NO_MAIL));
    }
    write(ctx, &who.actor(), async |w| {
        let person = store::lock_account(w.tx(), who.account).await?;
        let person = person.ok_or_else(|| Problem::new(&NOT_FOUND))?;
        if person.email.is_empty() {
            return Err(refusals::not_taken("/email", "You have given no address yet."));
        }
        send_proof(w, &person).await
    })
    .await
}

async fn send_proof(w: &Write, person: &accounts::Model) -> Result<()> {
    let to = (Some(person.id), person.email.as_str());
    let may = w.ctx().post.is_some() && !person.email.is_empty();
    if !may || store::is_proven(w.tx(), person).await? || !letters::may_write(w, Purpose::Prove, to.1).await?
    {
        return Ok(());
    }
    if !letters::may_have_written(w, Purpose::Prove, (person.id, to.1)).await? {
        return Ok(());
    }
    let token = letters::new_link(w, Purpose::Prove, to).await?;
    let site = w.ctx().config.public_url.clone().unwrap_or_default();
    queue(w, mail::proves(w.ctx().ids.new_id(w.now), person, &site, &token)).await
}

/// The address that a link proves, for the page that it opens; nothing is used by looking.
///
/// # Errors
/// `link-over`, `too-many-tries`.
pub async fn address_to_prove(ctx: &Ctx, token: &str, address: IpAddr) -> Result<String> {
    Ok(letters::good_link(ctx, Purpose::Prove, token, address).await?.email)
}

/// The owner of an address shows that it is theirs.
///
/// # Errors
/// `link-over`, `too-many-tries`.
pub async fn prove(ctx: &Ctx, token: &str, address: IpAddr) -> Result<()> {
    let link = letters::good_link(ctx, Purpose::Prove, token, address).await?;
    write(ctx, &Actor::Server, async |w| {
        letters::take(w, &link).await?;
        let person = store::lock_account(w.tx(), link.account.unwrap_or_default()).await?;
        let person = person.filter(|person| person.email == link.email && person.closed_ms.is_none());
        is_theirs(w, &person.ok_or_else(letters::over)?).await
    })
    .await
}

/// From now on mail may go to the address of an account. A digest that was wanted begins.
pub(super) async fn is_theirs(w: &mut Write, person: &accounts::Model) -> Result<()> {
    let row = store::lock_telling(w.tx(), person.id).await?;
    let mut row = row.unwrap_or_else(|| untold(person.id, w.now));
    row.proven_email = Some(person.email.clone());
    if row.digest {
        begin(w, &mut row).await?;
    }
    w.audit("accounts", format!("address of account {} proven", person.id));
    store::save_telling(w.tx(), row).await
}
