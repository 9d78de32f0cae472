//! Changing and resetting the password.

use std::net::IpAddr;

use sea_orm::ConnectionTrait;
use tarn_domain::accounts::{Beside, LoginName, check_password};

use super::super::{refusals, store};
use super::codes::{self, account_of};
use super::passwords::{self, Match};
use super::throttle::Throttle;
use crate::entities::accounts;
use crate::platform::auth::SignedIn;
use crate::platform::errors::NOT_FOUND;
use crate::platform::{Actor, Ctx, Problem, Result, Write, write};

/// The caller's account, once they have shown the password again; `field` is its pointer.
pub(super) async fn proven(
    ctx: &Ctx,
    who: &SignedIn,
    address: IpAddr,
    password: &str,
    field: &str,
) -> Result<accounts::Model> {
    let account = account_of(ctx, who).await?;
    let throttle = ctx.part::<Throttle>();
    throttle.begin(&account.login_name, address, ctx.clock.now_ms()).map_err(refusals::too_many_tries)?;
    if passwords::check(ctx, password, Some(account.password_hash.clone())).await? == Match::No {
        return Err(Problem::new(&refusals::SIGN_IN_FAILED).at(field, "This is not the password."));
    }
    throttle.forgive(&account.login_name, address);
    Ok(account)
}

/// The same account, and nobody else may change it until the write ends: what was shown before must still be its password,
/// or whoever has an older one would go on while it is being changed. Asked for first in a write, before a second factor.
pub(super) async fn still_proven(w: &Write, shown: &accounts::Model, field: &str) -> Result<accounts::Model> {
    let now = store::lock_account(w.tx(), shown.id).await?;
    let now = now.filter(|now| now.closed_ms.is_none() && now.password_hash == shown.password_hash);
    now.ok_or_else(|| Problem::new(&refusals::SIGN_IN_FAILED).at(field, "This is not the password."))
}

/// What a password may not be made of.
pub(super) async fn own_names(conn: &impl ConnectionTrait, account: &accounts::Model) -> Result<Vec<String>> {
    // a word stands in the place of the name of who is under age
    let name =
        store::young(conn, account.id).await?.map_or_else(|| account.shown_name.clone(), |young| young.name);
    Ok(vec![account.login_name.clone(), account.email.clone(), name])
}

/// What somebody shows once more before what can't be undone.
pub struct Shown<'a> {
    /// Their password.
    pub password: &'a str,
    /// The code, where there is a second factor.
    pub code: Option<&'a str>,
}

/// A password to take the place of another.
pub struct NewPassword<'a> {
    /// The one that is known.
    pub old: &'a str,
    /// The one to be.
    pub new: &'a str,
    /// The code, where there is a second factor.
    pub code: Option<&'a str>,
}

/// A new password for who knows the old one, and has a code where there is a second factor; all other sessions end.
///
/// # Errors
/// `sign-in-failed`, `second-factor-needed`, `code-wrong`, `password-weak`, `too-many-tries`, `busy-now`.
pub async fn change_password(
    ctx: &Ctx,
    who: &SignedIn,
    address: IpAddr,
    wanted: NewPassword<'_>,
) -> Result<()> {
    let account = proven(ctx, who, address, wanted.old, "/old_password").await?;
    let has_factor = store::has_factor(&ctx.db.conn, who.account).await?;
    let names = own_names(&ctx.db.conn, &account).await?;
    is_strong(wanted.new, &names, has_factor)?;
    let (code, throttled) = codes::begin_where_wanted(ctx, (&account, has_factor), address, wanted.code)?;
    let hash = passwords::hash(ctx, wanted.new).await?;
    write(ctx, &who.actor(), async |w| {
        still_proven(w, &account, "/old_password").await?;
        // it may have come or gone meanwhile: on one row, one after the other
        let has_factor = codes::take_where_wanted(w, who.account, code).await?;
        is_strong(wanted.new, &names, has_factor)?;
        store::set_password(w.tx(), who.account, &hash).await?;
        store::end_pending(w.tx(), who.account).await?;
        store::end_sessions_but(w.tx(), who.account, Some(who.session), w.now).await?;
        store::end_links(w.tx(), who.account, w.now).await?;
        w.audit("accounts", format!("password of account {} changed", who.account));
        Ok(())
    })
    .await?;
    codes::forgive(throttled);
    Ok(())
}

/// Beside a second factor a shorter one will do.
pub(super) fn is_strong(password: &str, names: &[String], has_factor: bool) -> Result<()> {
    let beside = if has_factor { Beside::SecondFactor } else { Beside::Nothing };
    check_password(password, &names.iter().map(String::as_str).collect::<Vec<_>>(), beside)
        .map_err(|weakness| refusals::weak(weakness, "/new_password"))
}

/// What the operator's way back in gave.
pub struct Reset {
    /// Whose.
    pub account: accounts::Model,
    /// The new password.
    pub password: String,
    /// Whether a second factor was taken away.
    pub had_factor: bool,
}

/// The operator's way back in: a password made by the server, no second factor, and every session ends. Its address is
/// proven no more, and no link in a letter is good: whoever reads its mail must not be the one who gets back in.
pub async fn reset_password(ctx: &Ctx, login_name: &str) -> Result<Reset> {
    let name = LoginName::parse(login_name).map_err(|why| refusals::not_taken("/login_name", why))?;
    let account = store::account_by_login(&ctx.db.conn, &name).await?;
    let account =
        account.ok_or_else(|| Problem::new(&NOT_FOUND).detail(format!("Nobody signs in as “{name}”.")))?;
    let password = store::secret_text(&ctx.ids.bytes());
    let hash = passwords::hash(ctx, &password).await?;
    let had_factor = write(ctx, &Actor::Operator, async |w| {
        store::lock_account(w.tx(), account.id).await?;
        store::set_password(w.tx(), account.id, &hash).await?;
        store::end_sessions_but(w.tx(), account.id, None, w.now).await?;
        store::end_pending(w.tx(), account.id).await?;
        store::end_links(w.tx(), account.id, w.now).await?;
        if let Some(mut row) = store::lock_telling(w.tx(), account.id).await? {
            (row.proven_email, row.proof_hash, row.proof_expires_ms) = (None, None, None);
            store::save_telling(w.tx(), row).await?;
        }
        w.audit("accounts", format!("password of account {} reset by the operator", account.id));
        let had_factor = store::end_factor(w.tx(), account.id).await?;
        if had_factor {
            w.audit(
                "accounts",
                format!("second factor of account {} taken away by the operator", account.id),
            );
        }
        Ok(had_factor)
    })
    .await?;
    Ok(Reset { account, password, had_factor })
}
