//! Changing and resetting the password.

use std::net::IpAddr;

use tarn_domain::accounts::{Beside, LoginName, check_password};

use super::super::{refusals, store};
use super::codes::{self, account_of};
use super::passwords::{self, Match};
use super::throttle::Throttle;
use crate::entities::accounts;
use crate::platform::auth::SignedIn;
use crate::platform::errors::NOT_FOUND;
use crate::platform::{Actor, Ctx, Problem, Result, write};

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

/// What a password may not be made of.
pub(super) fn own_names(account: &accounts::Model) -> [&str; 3] {
    [&account.login_name, &account.email, &account.shown_name]
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
    is_strong(wanted.new, &account, has_factor)?;
    let (code, throttled) = codes::begin_where_wanted(ctx, (&account, has_factor), address, wanted.code)?;
    let hash = passwords::hash(ctx, wanted.new).await?;
    write(ctx, &who.actor(), async |w| {
        // it may have come or gone meanwhile: on one row, one after the other
        let has_factor = codes::take_where_wanted(w, who.account, code).await?;
        is_strong(wanted.new, &account, has_factor)?;
        store::set_password(w.tx(), who.account, &hash).await?;
        store::end_pending(w.tx(), who.account).await?;
        store::end_sessions_but(w.tx(), who.account, Some(who.session), w.now).await?;
        w.audit("accounts", format!("password of account {} changed", who.account));
        Ok(())
    })
    .await?;
    if let Some(throttled) = throttled {
        throttled.forgive();
    }
    Ok(())
}

/// Beside a second factor a shorter one will do.
pub(super) fn is_strong(password: &str, account: &accounts::Model, has_factor: bool) -> Result<()> {
    let beside = if has_factor { Beside::SecondFactor } else { Beside::Nothing };
    check_password(password, &own_names(account), beside)
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

/// The operator's way back in: a password made by the server, no second factor, and every session ends.
pub async fn reset_password(ctx: &Ctx, login_name: &str) -> Result<Reset> {
    let name = LoginName::parse(login_name).map_err(|why| refusals::not_taken("/login_name", why))?;
    let account = store::account_by_login(&ctx.db.conn, &name).await?;
    let account =
        account.ok_or_else(|| Problem::new(&NOT_FOUND).detail(format!("Nobody signs in as “{name}”.")))?;
    let password = store::secret_text(&ctx.ids.bytes());
    let hash = passwords::hash(ctx, &password).await?;
    let had_factor = write(ctx, &Actor::Operator, async |w| {
        store::set_password(w.tx(), account.id, &hash).await?;
        store::end_sessions_but(w.tx(), account.id, None, w.now).await?;
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
