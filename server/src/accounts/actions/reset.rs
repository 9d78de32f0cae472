//! A forgotten password: a link by mail, to an address that is proven, opens a page on which another is taken. A second
//! factor stays in force: nobody is signed in by it.

use std::net::IpAddr;

use serde_json::Value;
use tarn_domain::accounts::{Email, LoginName};

use super::super::{mail, store};
use super::account::{is_strong, own_names};
use super::letters::{self, Purpose};
use super::passwords;
use crate::accounts::jobs::RESET_ASKED;
use crate::entities::{accounts, mail_links};
use crate::platform::mail::queue;
use crate::platform::messages::{self, Line};
use crate::platform::{Actor, Ctx, Result, Write, write};

/// Asks for the letter, by login name or address. Whether anybody has it can't be told from the answer.
///
/// # Errors
/// `no-mail`, `too-many-tries`.
pub async fn ask_reset(ctx: &Ctx, typed: &str, address: IpAddr) -> Result<()> {
    letters::ask(ctx, RESET_ASKED, typed, address).await
}

/// Writes the letter, if there is somebody: one for all accounts at an address, each with its login name and link.
pub(in crate::accounts) async fn write_reset(w: &mut Write, payload: Value) -> Result<()> {
    let Some(typed) = letters::asked(w, &payload).await? else { return Ok(()) };
    if w.ctx().post.is_none() {
        return Ok(());
    }
    let found = found(w, &typed).await?;
    let Some(first) = found.first() else { return Ok(()) };
    // one job after the other, or two of them would both write
    store::lock_account(w.tx(), first.id).await?;
    if !letters::may_write(w, Purpose::Reset, &first.email).await? {
        return Ok(());
    }
    let mut links = Vec::new();
    for person in &found {
        let token = letters::new_link(w, Purpose::Reset, (Some(person.id), &person.email)).await?;
        links.push((person, token));
    }
    let site = w.ctx().config.public_url.clone().unwrap_or_default();
    let named: Vec<(&str, &str)> =
        links.iter().map(|(person, token)| (person.login_name.as_str(), token.as_str())).collect();
    queue(w, mail::resets(w.ctx().ids.new_id(w.now), &first.email, &named, &site)).await
}

/// Those whose address is proven, all at one: mail goes nowhere else.
async fn found(w: &Write, typed: &str) -> Result<Vec<accounts::Model>> {
    if let Ok(email) = Email::parse(typed) {
        return store::accounts_at(w.tx(), email.as_str()).await;
    }
    let Ok(name) = LoginName::parse(typed) else { return Ok(Vec::new()) };
    let person = store::account_by_login(w.tx(), &name).await?;
    let Some(person) = person.filter(|person| person.closed_ms.is_none()) else { return Ok(Vec::new()) };
    Ok(if store::is_proven(w.tx(), &person).await? { vec![person] } else { Vec::new() })
}

/// Whose password a link is for, and whether they have a second factor; nothing is used by looking.
///
/// # Errors
/// `link-over`, `too-many-tries`.
pub async fn whose_reset(ctx: &Ctx, token: &str, address: IpAddr) -> Result<(accounts::Model, bool)> {
    let link = letters::good_link(ctx, Purpose::Reset, token, address).await?;
    let person = store::account(&ctx.db.conn, link.account.unwrap_or_default()).await?;
    let person = person.filter(|person| is_for(&link, person)).ok_or_else(letters::over)?;
    let has_factor = store::has_factor(&ctx.db.conn, person.id).await?;
    Ok((person, has_factor))
}

fn is_for(link: &mail_links::Model, person: &accounts::Model) -> bool {
    person.email == link.email && person.closed_ms.is_none()
}

/// Another password for who has the link; every session ends, and nobody is signed in by it.
///
/// # Errors
/// `link-over`, `password-weak`, `too-many-tries`, `busy-now`.
pub async fn reset_by_link(ctx: &Ctx, token: &str, address: IpAddr, new: &str) -> Result<()> {
    let (person, has_factor) = whose_reset(ctx, token, address).await?;
    is_strong(new, &own_names(&ctx.db.conn, &person).await?, has_factor)?;
    let hash = passwords::hash(ctx, new).await?;
    let link = letters::good_link(ctx, Purpose::Reset, token, address).await?;
    write(ctx, &Actor::Server, async |w| {
        letters::take(w, &link).await?;
        let person = store::lock_account(w.tx(), person.id).await?;
        let person = person.filter(|person| is_for(&link, person)).ok_or_else(letters::over)?;
        let factor = store::lock_factor(w.tx(), person.id).await?;
        let has_factor = factor.is_some_and(|row| row.confirmed_ms.is_some());
        is_strong(new, &own_names(w.tx(), &person).await?, has_factor)?;
        store::set_password(w.tx(), person.id, &hash).await?;
        store::end_pending(w.tx(), person.id).await?;
        store::end_sessions_but(w.tx(), person.id, None, w.now).await?;
        store::end_links(w.tx(), person.id, w.now).await?;
        let fact = format!("accounts:reset:{}", w.ctx().ids.new_id(w.now));
        let text = "Your password was reset by a link in a letter, and all sessions ended. If it was not you, somebody \
            reads your mail: take another address.";
        let href = Some("/account/email".to_owned());
        messages::tell(w, Line { account: person.id, fact: &fact, text, href }).await?;
        if w.ctx().post.is_some() {
            let site = w.ctx().config.public_url.clone().unwrap_or_default();
            queue(w, mail::was_reset(w.ctx().ids.new_id(w.now), &person, &site)).await?;
        }
        w.audit("accounts", format!("password of account {} reset by a link in a letter", person.id));
        Ok(())
    })
    .await
}
