//! Changing and resetting the password.

use std::net::IpAddr;

use tarn_domain::accounts::{LoginName, check_password};

use super::super::{refusals, store};
use super::passwords::{self, Match};
use super::throttle::Throttle;
use crate::entities::accounts;
use crate::platform::auth::SignedIn;
use crate::platform::errors::NOT_FOUND;
use crate::platform::{Actor, Ctx, Problem, Result, write};

/// A new password for who knows the old one; all other sessions end.
pub async fn change_password(ctx: &Ctx, who: &SignedIn, address: IpAddr, old: &str, new: &str) -> Result<()> {
    let account = store::account(&ctx.db.conn, who.account).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let throttle = ctx.part::<Throttle>();
    throttle.begin(&account.login_name, address, ctx.clock.now_ms()).map_err(refusals::too_many_tries)?;
    if passwords::check(ctx, old, Some(account.password_hash.clone())).await? == Match::No {
        return Err(Problem::new(&refusals::SIGN_IN_FAILED).at("/old_password", "This is not the password."));
    }
    throttle.forgive(&account.login_name, address);
    let own = [account.login_name.as_str(), account.email.as_str(), account.shown_name.as_str()];
    check_password(new, &own).map_err(|weakness| refusals::weak(weakness, "/new_password"))?;
    let hash = passwords::hash(ctx, new).await?;
    write(ctx, &who.actor(), async |w| {
        store::set_password(w.tx(), who.account, &hash).await?;
        store::end_sessions_but(w.tx(), who.account, Some(who.session), w.now).await?;
        w.audit("accounts", format!("password of account {} changed", who.account));
        Ok(())
    })
    .await
}

/// The operator's way back in: a password made by the server, and every session ends.
pub async fn reset_password(ctx: &Ctx, login_name: &str) -> Result<(accounts::Model, String)> {
    let name = LoginName::parse(login_name).map_err(|why| refusals::not_taken("/login_name", why))?;
    let account = store::account_by_login(&ctx.db.conn, &name).await?;
    let account =
        account.ok_or_else(|| Problem::new(&NOT_FOUND).detail(format!("Nobody signs in as “{name}”.")))?;
    let password = store::secret_text(&ctx.ids.bytes());
    let hash = passwords::hash(ctx, &password).await?;
    write(ctx, &Actor::Operator, async |w| {
        store::set_password(w.tx(), account.id, &hash).await?;
        store::end_sessions_but(w.tx(), account.id, None, w.now).await?;
        w.audit("accounts", format!("password of account {} reset by the operator", account.id));
        Ok(())
    })
    .await?;
    Ok((account, password))
}
