//! An account without an invitation, where the operator lets people sign up: a link goes to the address first, and
//! nothing is made before it comes back.

use std::net::IpAddr;

use serde_json::Value;
use tarn_domain::accounts::Email;

use super::super::{mail, refusals, store};
use super::email::is_theirs;
use super::letters::{self, Purpose};
use super::open::{NewAccount, open_account};
use super::passwords;
use super::sessions::{Opened, open_session, open_with_token};
use crate::accounts::jobs::SIGN_UP_ASKED;
use crate::platform::mail::queue;
use crate::platform::{Actor, Ctx, Problem, Result, Write, write};

/// Asks for the link. Whether the address is known can't be told from the answer.
///
/// # Errors
/// `sign-up-closed`, `no-mail`, `invalid`, `too-many-tries`.
pub async fn ask_sign_up(ctx: &Ctx, email: &str, address: IpAddr) -> Result<()> {
    is_open(ctx)?;
    let email = Email::parse(email).map_err(|why| refusals::not_taken("/email", why))?;
    letters::ask(ctx, SIGN_UP_ASKED, email.as_str(), address).await
}

/// Whether people may sign up by themselves.
///
/// # Errors
/// `sign-up-closed`.
pub fn is_open(ctx: &Ctx) -> Result<()> {
    if ctx.config.sign_up { Ok(()) } else { Err(Problem::new(&refusals::SIGN_UP_CLOSED)) }
}

/// Writes the letter; who has accounts at the address reads their login names in it, and may make one more.
pub(in crate::accounts) async fn write_sign_up(w: &mut Write, payload: Value) -> Result<()> {
    let Some(email) = letters::asked(w, &payload).await? else { return Ok(()) };
    let to = (None, email.as_str());
    if w.ctx().post.is_none() || !letters::may_write(w, Purpose::SignUp, &email).await? {
        return Ok(());
    }
    let there = store::accounts_at(w.tx(), &email).await?;
    let names: Vec<&str> = there.iter().map(|person| person.login_name.as_str()).collect();
    let token = letters::new_link(w, Purpose::SignUp, to).await?;
    let site = w.ctx().config.public_url.clone().unwrap_or_default();
    queue(w, mail::signs_up(w.ctx().ids.new_id(w.now), &email, &names, &site, &token)).await
}

/// The address that a link is for; nothing is used by looking.
///
/// # Errors
/// `sign-up-closed`, `link-over`, `too-many-tries`.
pub async fn address_of_sign_up(ctx: &Ctx, token: &str, address: IpAddr) -> Result<String> {
    is_open(ctx)?;
    Ok(letters::good_link(ctx, Purpose::SignUp, token, address).await?.email)
}

/// What somebody typed who signs up.
pub struct SignUp<'a> {
    /// Of the link.
    pub token: &'a str,
    /// To sign in with.
    pub login_name: &'a str,
    /// What others read.
    pub shown_name: &'a str,
    /// The password.
    pub password: &'a str,
    /// From where.
    pub address: IpAddr,
    /// What signs in, in words for the list of sessions.
    pub what: &'a str,
    /// A browser gets a cookie instead of a refresh token.
    pub browser: bool,
}

/// Makes the account, whose address is proven by the link, and signs it in. It belongs to no club yet.
///
/// # Errors
/// `sign-up-closed`, `link-over`, `invalid`, `login-name-taken`, `password-weak`, `too-many-tries`, `busy-now`.
pub async fn sign_up(ctx: &Ctx, wanted: SignUp<'_>) -> Result<Opened> {
    is_open(ctx)?;
    let link = letters::good_link(ctx, Purpose::SignUp, wanted.token, wanted.address).await?;
    let new = NewAccount::parse(wanted.login_name, &link.email, wanted.shown_name, wanted.password)?;
    let password = passwords::hash(ctx, wanted.password).await?;
    write(ctx, &Actor::Server, async |w| {
        letters::take(w, &link).await?;
        let account = open_account(w, &new, &password).await?;
        is_theirs(w, &account).await?;
        if wanted.browser {
            open_session(w, account, wanted.what).await
        } else {
            open_with_token(w, account, wanted.what).await
        }
    })
    .await
}
