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
        still_knows(w, &account).await?;
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
    let throttled = codes::begin_try(ctx, account, address, code)?;
    let opened = write(ctx, &Actor::Server, async |w| {
        still_knows(w, account).await?;
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
    write(ctx, &Actor::Server, async |w| {
        still_knows(w, account).await?;
        // one may have been set up since
        let factor = store::lock_factor(w.tx(), account.id).await?;
        if factor.is_some_and(|row| row.confirmed_ms.is_some()) {
            return Err(Problem::new(&refusals::SECOND_FACTOR_NEEDED));
        }
        open(w, account, what, browser).await
    })
    .await
}

/// What was typed is still the password when the session opens: it may have been reset while this one waited its turn.
async fn still_knows(w: &Write, account: &accounts::Model) -> Result<()> {
    let now = store::lock_account(w.tx(), account.id).await?;
    let still = now.is_some_and(|now| now.closed_ms.is_none() && now.password_hash == account.password_hash);
    if still { Ok(()) } else { Err(Problem::new(&refusals::SIGN_IN_FAILED)) }
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
    let mut account =
        account.filter(|_| fits != Match::No).ok_or_else(|| Problem::new(&refusals::SIGN_IN_FAILED))?;
    if fits == Match::YesOutdated {
        account.password_hash = renewed(ctx, &account, password).await?;
    }
    Ok(account)
}

/// The same password, hashed as it is done today. Another sign-in may have done it meanwhile; a password that was changed
/// meanwhile stays changed.
async fn renewed(ctx: &Ctx, account: &accounts::Model, password: &str) -> Result<String> {
    let (id, old) = (account.id, account.password_hash.as_str());
    let hash = passwords::hash(ctx, password).await?;
    let kept =
        write(ctx, &Actor::Server, async |w| store::replace_password(w.tx(), id, (old, &hash)).await).await?;
    if kept {
        return Ok(hash);
    }
    let now = store::account(&ctx.db.conn, id).await?.map(|now| now.password_hash);
    match passwords::check(ctx, password, now.clone()).await? {
        Match::No => Err(Problem::new(&refusals::SIGN_IN_FAILED)),
        Match::Yes | Match::YesOutdated => Ok(now.unwrap_or_default()),
    }
}

#[cfg(test)]
mod tests {
    use super::super::account::reset_password;
    use super::super::open::{NewAccount, open_account};
    use super::*;
    use crate::platform::config::{Config, Settings};

    const PASSWORD: &str = "moss on the window sill";

    async fn with_mira(folder: &tempfile::TempDir, hash: Option<&str>) -> (Ctx, accounts::Model) {
        let settings = Settings { data: folder.path().into(), ..Settings::default() };
        let ctx = Ctx::open(Config::load_offline(&settings).expect("read")).await.expect("opened");
        let hash = match hash {
            Some(hash) => hash.to_owned(),
            None => passwords::hash(&ctx, PASSWORD).await.expect("hashed"),
        };
        let new = NewAccount::parse("mira", "", "Mira", PASSWORD).expect("good");
        let mira =
            write(&ctx, &Actor::Server, async |w| open_account(w, &new, &hash).await).await.expect("made");
        (ctx, mira)
    }

    fn wanted(password: &str) -> SignIn<'_> {
        SignIn {
            login_name: "mira",
            password,
            code: None,
            address: IpAddr::from([10, 0, 0, 1]),
            what: "a test",
        }
    }

    #[tokio::test]
    async fn a_sign_in_that_began_before_a_reset_opens_nothing() {
        let folder = tempfile::tempdir().expect("a folder");
        let (ctx, _) = with_mira(&folder, None).await;
        let known = knows_the_password(&ctx, &wanted(PASSWORD)).await.expect("it is the password");
        let reset = reset_password(&ctx, "mira").await.expect("reset");
        let no = opened(&ctx, &known, "a test", false).await.err().map(|no| no.kind().code);
        assert_eq!(no, Some("sign-in-failed"));
        assert_eq!(store::sessions_of(&ctx.db.conn, known.id).await.expect("read").len(), 0);
        assert!(sign_in(&ctx, wanted(&reset.password)).await.is_ok());
    }

    /// The hash is the reference implementation's, with other parameters (see `passwords`).
    #[tokio::test]
    async fn an_old_hash_is_renewed_and_never_undoes_a_reset() {
        let old = "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc";
        let folder = tempfile::tempdir().expect("a folder");
        let (ctx, mira) = with_mira(&folder, Some(old)).await;
        assert!(sign_in(&ctx, wanted("password")).await.is_ok());
        let now = store::account(&ctx.db.conn, mira.id).await.expect("read").expect("there");
        assert!(now.password_hash.contains("m=19456"), "{}", now.password_hash);
        // another sign-in with the same password had read the old hash
        assert_eq!(renewed(&ctx, &mira, "password").await.ok(), Some(now.password_hash));
        let reset = reset_password(&ctx, "mira").await.expect("reset");
        assert!(renewed(&ctx, &mira, "password").await.is_err());
        assert!(sign_in(&ctx, wanted(&reset.password)).await.is_ok());
    }
}
