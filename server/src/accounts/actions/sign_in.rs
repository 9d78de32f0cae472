//! Signing in with login name and password, and with a code where there is a second factor.

use std::net::IpAddr;

use sea_orm::ActiveValue::Set;
use tarn_domain::accounts::LoginName;

use super::super::{refusals, store};
use super::codes;
use super::passwords::{self, Match};
use super::sessions::{Opened, open_session, open_with_token};
use super::throttle::Throttle;
use crate::entities::{accounts, pending_sign_ins};
use crate::platform::messages::{self, Line};
use crate::platform::{Actor, Ctx, Problem, Result, Write, write};

/// How long a sign-in waits for its code.
const WAITS_MS: i64 = 5 * 60_000;
const DAY_MS: i64 = 86_400_000;

/// Who wants in, and from where.
pub struct SignIn<'a> {
    /// As it was typed.
    pub login_name: &'a str,
    /// As it was typed.
    pub password: &'a str,
    /// The code, where it is sent with the password.
    pub code: Option<&'a str>,
    /// From where.
    pub address: IpAddr,
    /// What signs in, in words for the list of sessions.
    pub what: &'a str,
}

/// What came of the first step on a page.
pub enum Entered {
    /// A session.
    In(Opened),
    /// Nothing yet: what the form of the second step carries. It is good once, for a few minutes, and opens nothing by
    /// itself.
    Waits(String),
}

/// Opens a session for whoever knows the password, and has the code where there is a second factor. Whether the name
/// exists can't be told from the answer, nor from the time it takes.
///
/// # Errors
/// `sign-in-failed`, `second-factor-needed`, `code-wrong`, `too-many-tries`, `busy-now`.
pub async fn sign_in(ctx: &Ctx, wanted: SignIn<'_>) -> Result<Opened> {
    let account = knows_the_password(ctx, &wanted).await?;
    if !store::has_factor(&ctx.db.conn, account.id).await? {
        return opened(ctx, &account, wanted.what, false).await;
    }
    let code = wanted.code.filter(|code| !code.trim().is_empty());
    let code = code.ok_or_else(|| Problem::new(&refusals::SECOND_FACTOR_NEEDED))?;
    with_code(ctx, &account, code, (wanted.address, wanted.what), None).await
}

/// The same on a page, where the code is asked for afterwards.
///
/// # Errors
/// `sign-in-failed`, `too-many-tries`, `busy-now`.
pub async fn sign_in_by_page(ctx: &Ctx, wanted: SignIn<'_>) -> Result<Entered> {
    let account = knows_the_password(ctx, &wanted).await?;
    if !store::has_factor(&ctx.db.conn, account.id).await? {
        return opened(ctx, &account, wanted.what, true).await.map(Entered::In);
    }
    let token = store::secret_text(&ctx.ids.bytes());
    write(ctx, &Actor::Server, async |w| {
        let row = pending_sign_ins::ActiveModel {
            hash: Set(store::secret_hash(&token)),
            account: Set(account.id),
            expires_ms: Set(w.now + WAITS_MS),
        };
        store::insert_pending(w.tx(), row, w.now).await
    })
    .await?;
    Ok(Entered::Waits(token))
}

/// The second step on a page.
///
/// # Errors
/// `sign-in-over` when it took too long or was done already, `code-wrong`, `too-many-tries`.
pub async fn sign_in_with_code(ctx: &Ctx, pending: &str, code: &str, from: (IpAddr, &str)) -> Result<Opened> {
    let over = || Problem::new(&refusals::SIGN_IN_OVER);
    let hash = store::secret_hash(pending);
    let row = store::pending(&ctx.db.conn, &hash).await?;
    let row = row.filter(|row| row.expires_ms > ctx.clock.now_ms()).ok_or_else(over)?;
    let account = store::account(&ctx.db.conn, row.account).await?;
    let account = account.filter(|account| account.closed_ms.is_none()).ok_or_else(over)?;
    with_code(ctx, &account, code, from, Some(&hash)).await
}

/// A session for a code; `pending` is the first step on a page.
async fn with_code(
    ctx: &Ctx,
    account: &accounts::Model,
    code: &str,
    (address, what): (IpAddr, &str),
    pending: Option<&[u8]>,
) -> Result<Opened> {
    let throttled = codes::begin_try(ctx, account, address)?;
    let opened = write(ctx, &Actor::Server, async |w| {
        if !codes::take(w, account.id, code).await? {
            return tell_of_a_wrong_code(w, account).await.map(|()| None);
        }
        if let Some(pending) = pending
            && !store::take_pending(w.tx(), pending).await?
        {
            return Err(Problem::new(&refusals::SIGN_IN_OVER));
        }
        open(w, account, what, pending.is_some()).await.map(Some)
    })
    .await?;
    let opened = opened.ok_or_else(refusals::code_wrong)?;
    throttled.forgive();
    Ok(opened)
}

/// Whoever typed it knew the password; the owner hears of it once a day.
async fn tell_of_a_wrong_code(w: &Write, account: &accounts::Model) -> Result<()> {
    let fact = format!("accounts:wrong-code:{}", w.now.div_euclid(DAY_MS));
    let text = "Somebody signed in with your password and a wrong code. If it was not you, somebody knows your password: \
        take another.";
    let href = Some("/account".to_owned());
    messages::tell(w, Line { account: account.id, fact: &fact, text, href }).await
}

async fn opened(ctx: &Ctx, account: &accounts::Model, what: &str, browser: bool) -> Result<Opened> {
    write(ctx, &Actor::Server, async |w| open(w, account, what, browser).await).await
}

/// A browser gets a cookie instead of a refresh token.
async fn open(w: &mut Write, account: &accounts::Model, what: &str, browser: bool) -> Result<Opened> {
    w.audit("accounts", format!("account {} signed in", account.id));
    if browser {
        open_session(w, account.clone(), what).await
    } else {
        open_with_token(w, account.clone(), what).await
    }
}

async fn knows_the_password(ctx: &Ctx, wanted: &SignIn<'_>) -> Result<accounts::Model> {
    let throttle = ctx.part::<Throttle>();
    let login = wanted.login_name.trim().to_ascii_lowercase();
    // What can be no login name is one key for all, however long it is.
    let key = LoginName::parse(&login).map_or_else(|_| String::new(), |_| login.clone());
    passwords::has_room(ctx)?;
    throttle.begin(&key, wanted.address, ctx.clock.now_ms()).map_err(refusals::too_many_tries)?;
    let account = checked(ctx, &login, wanted.password).await?;
    throttle.forgive(&key, wanted.address);
    Ok(account)
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
