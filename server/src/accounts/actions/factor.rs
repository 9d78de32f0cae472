//! The second factor: set up, confirmed by a first code, given new recovery codes, taken away.
//!
//! Whoever changes it shows the password again, and every other session ends.

use std::net::IpAddr;

use tarn_domain::accounts::{
    Beside, RECOVERY_BYTES, RECOVERY_CODES, SECRET_BYTES, base32, check_password, recovery_code,
    written_secret,
};

use super::super::{refusals, store};
use super::account::{own_names, proven, still_proven};
use super::codes::{self, code_hash};
use crate::entities::{accounts, second_factors};
use crate::platform::auth::SignedIn;
use crate::platform::html::encoded;
use crate::platform::{Ctx, Problem, Result, Write, write};

/// How the second factor of an account stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Factor {
    /// There is none.
    Off,
    /// A secret was told, and no code came yet.
    Begun,
    /// It is asked for.
    On {
        /// Since when, in milliseconds.
        since_ms: i64,
        /// Recovery codes that are unused.
        codes_left: u64,
    },
}

/// A secret, told once.
pub struct Secret {
    /// In fours, to be typed.
    pub written: String,
    /// The same as an address that phones understand.
    pub uri: String,
}

/// How the caller's second factor stands.
pub async fn factor(ctx: &Ctx, who: &SignedIn) -> Result<Factor> {
    let conn = &ctx.db.conn;
    Ok(match store::factor(conn, who.account).await?.map(|row| row.confirmed_ms) {
        None => Factor::Off,
        Some(None) => Factor::Begun,
        Some(Some(since_ms)) => {
            Factor::On { since_ms, codes_left: store::codes_left(conn, who.account).await? }
        }
    })
}

/// A new secret, which counts from the first code on. One that was begun before is good no more.
///
/// # Errors
/// `second-factor-on` while there is one; `sign-in-failed` for a wrong password.
pub async fn begin_factor(ctx: &Ctx, who: &SignedIn, address: IpAddr, password: &str) -> Result<Secret> {
    if store::has_factor(&ctx.db.conn, who.account).await? {
        return Err(Problem::new(&refusals::SECOND_FACTOR_ON));
    }
    let account = proven(ctx, who, address, password, "/password").await?;
    let secret = ctx.ids.bytes::<SECRET_BYTES>();
    write(ctx, &who.actor(), async |w| {
        still_proven(w, &account, "/password").await?;
        let old = store::lock_factor(w.tx(), who.account).await?;
        if old.is_some_and(|old| old.confirmed_ms.is_some()) {
            return Err(Problem::new(&refusals::SECOND_FACTOR_ON));
        }
        let row = second_factors::Model {
            account: who.account,
            secret: secret.to_vec(),
            made_ms: w.now,
            confirmed_ms: None,
            last_step: None,
        };
        store::save_factor(w.tx(), row).await
    })
    .await?;
    Ok(Secret { written: written_secret(&secret), uri: uri(ctx, &account, &secret) })
}

fn uri(ctx: &Ctx, account: &accounts::Model, secret: &[u8]) -> String {
    let site = ctx.config.public_url.as_deref().and_then(|url| url.split('/').nth(2));
    let issuer = encoded(&site.map_or_else(|| "Tarn".to_owned(), |site| format!("Tarn {site}")));
    let login = encoded(&account.login_name);
    format!("otpauth://totp/{issuer}:{login}?secret={}&issuer={issuer}", base32(secret))
}

/// A first code shows that the secret arrived: from now on it is asked for. The recovery codes, told once.
///
/// # Errors
/// `no-second-factor` if none was begun, `second-factor-on` if it is on already, `code-wrong`.
pub async fn confirm_factor(ctx: &Ctx, who: &SignedIn, address: IpAddr, code: &str) -> Result<Vec<String>> {
    let account = codes::account_of(ctx, who).await?;
    let throttled = codes::begin_try(ctx, &account, address, code)?;
    let written = write(ctx, &who.actor(), async |w| {
        store::lock_account(w.tx(), who.account).await?;
        let row = store::lock_factor(w.tx(), who.account).await?;
        let mut row = row.ok_or_else(|| Problem::new(&refusals::NO_SECOND_FACTOR))?;
        if row.confirmed_ms.is_some() {
            return Err(Problem::new(&refusals::SECOND_FACTOR_ON));
        }
        row.last_step = codes::step(&row, code, w.now);
        if row.last_step.is_none() {
            return Err(refusals::code_wrong());
        }
        row.confirmed_ms = Some(w.now);
        store::save_factor(w.tx(), row).await?;
        store::end_sessions_but(w.tx(), who.account, Some(who.session), w.now).await?;
        store::end_pending(w.tx(), who.account).await?;
        w.audit("accounts", format!("account {} set up a second factor", who.account));
        new_codes(w, who).await
    })
    .await?;
    throttled.forgive();
    Ok(written)
}

async fn new_codes(w: &Write, who: &SignedIn) -> Result<Vec<String>> {
    let random = (0..RECOVERY_CODES).map(|_| w.ctx().ids.bytes::<RECOVERY_BYTES>());
    let written: Vec<String> = random.map(|random| recovery_code(&random)).collect();
    let hashes = written.iter().map(|code| code_hash(who.account, &code.replace('-', ""))).collect();
    store::save_codes(w.tx(), who.account, hashes, w.now).await?;
    Ok(written)
}

/// A new set of recovery codes; those of before are good no more.
///
/// # Errors
/// `no-second-factor`, `sign-in-failed`, `code-wrong`.
pub async fn renew_codes(
    ctx: &Ctx,
    who: &SignedIn,
    address: IpAddr,
    (password, code): (&str, &str),
) -> Result<Vec<String>> {
    must_have(ctx, who).await?;
    let account = proven(ctx, who, address, password, "/password").await?;
    let throttled = codes::begin_try(ctx, &account, address, code)?;
    let written = write(ctx, &who.actor(), async |w| {
        still_proven(w, &account, "/password").await?;
        if !codes::take(w, who.account, code).await? {
            return Err(refusals::code_wrong());
        }
        w.audit("accounts", format!("account {} made new recovery codes", who.account));
        new_codes(w, who).await
    })
    .await?;
    throttled.forgive();
    Ok(written)
}

/// Takes the second factor away. A password that was long enough only beside it has to be changed first.
///
/// # Errors
/// `no-second-factor`, `sign-in-failed`, `code-wrong`, `password-weak`.
pub async fn end_factor(
    ctx: &Ctx,
    who: &SignedIn,
    address: IpAddr,
    (password, code): (&str, &str),
) -> Result<()> {
    must_have(ctx, who).await?;
    let account = proven(ctx, who, address, password, "/password").await?;
    let names = own_names(&ctx.db.conn, &account).await?;
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    check_password(password, &names, Beside::Nothing).map_err(|_| refusals::longer_first())?;
    let throttled = codes::begin_try(ctx, &account, address, code)?;
    write(ctx, &who.actor(), async |w| {
        // another session may have changed the password to a short one since it was shown
        still_proven(w, &account, "/password").await?;
        if !codes::take(w, who.account, code).await? {
            return Err(refusals::code_wrong());
        }
        store::end_factor(w.tx(), who.account).await?;
        store::end_sessions_but(w.tx(), who.account, Some(who.session), w.now).await?;
        w.audit("accounts", format!("account {} took its second factor away", who.account));
        Ok(())
    })
    .await?;
    throttled.forgive();
    Ok(())
}

async fn must_have(ctx: &Ctx, who: &SignedIn) -> Result<()> {
    let has = store::has_factor(&ctx.db.conn, who.account).await?;
    if has { Ok(()) } else { Err(Problem::new(&refusals::NO_SECOND_FACTOR)) }
}
