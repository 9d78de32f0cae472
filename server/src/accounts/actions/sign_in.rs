//! Signing in with login name and password.

use std::net::IpAddr;

use tarn_domain::accounts::LoginName;

use super::super::{refusals, store};
use super::passwords::{self, Match};
use super::sessions::{Opened, open_session, open_with_token};
use super::throttle::Throttle;
use crate::entities::accounts;
use crate::platform::{Actor, Ctx, Problem, Result, write};

/// Who wants in, and from where.
pub struct SignIn<'a> {
    /// As it was typed.
    pub login_name: &'a str,
    /// As it was typed.
    pub password: &'a str,
    /// From where.
    pub address: IpAddr,
    /// What signs in, in words for the list of sessions.
    pub what: &'a str,
    /// A browser gets a cookie instead of a refresh token.
    pub browser: bool,
}

/// Opens a session for whoever knows the password. Whether the name exists can't be told from the answer, nor from
/// the time it takes.
pub async fn sign_in(ctx: &Ctx, wanted: SignIn<'_>) -> Result<Opened> {
    let throttle = ctx.part::<Throttle>();
    let login = wanted.login_name.trim().to_ascii_lowercase();
    // What can be no login name is one key for all, however long it is.
    let key = LoginName::parse(&login).map_or_else(|_| String::new(), |_| login.clone());
    throttle.begin(&key, wanted.address, ctx.clock.now_ms()).map_err(refusals::too_many_tries)?;
    let account = checked(ctx, &login, wanted.password).await?;
    throttle.forgive(&key, wanted.address);
    let actor = Actor::Server;
    write(ctx, &actor, async |w| {
        let account = account.clone();
        w.audit("accounts", format!("account {} signed in", account.id));
        if wanted.browser {
            open_session(w, account, wanted.what).await
        } else {
            open_with_token(w, account, wanted.what).await
        }
    })
    .await
}

async fn checked(ctx: &Ctx, login: &str, password: &str) -> Result<accounts::Model> {
    let account = match LoginName::parse(login) {
        Ok(name) => store::account_by_login(&ctx.db.conn, &name).await?,
        Err(_) => None,
    };
    let account = account.filter(|account| account.closed_ms.is_none());
    let hash = account.as_ref().map(|account| account.password_hash.clone());
    let fits = passwords::check(ctx, password, hash).await?;
    let account =
        account.filter(|_| fits != Match::No).ok_or_else(|| Problem::new(&refusals::SIGN_IN_FAILED))?;
    if fits == Match::YesOutdated {
        let hash = passwords::hash(ctx, password).await?;
        write(ctx, &Actor::Server, async |w| store::set_password(w.tx(), account.id, &hash).await).await?;
    }
    Ok(account)
}
