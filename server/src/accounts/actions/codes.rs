//! Codes of the second factor: which are good, and that wrong ones are slowed down.
//!
//! They are counted apart from passwords: a right password must not forgive wrong codes.

use std::net::IpAddr;
use std::sync::Arc;

use tarn_domain::accounts::{Code, good_step};
use uuid::Uuid;

use super::super::{refusals, store};
use super::throttle::Throttle;
use crate::entities::{accounts, second_factors};
use crate::platform::auth::SignedIn;
use crate::platform::errors::NOT_FOUND;
use crate::platform::{Ctx, Problem, Result, Write};

/// A try that counts as wrong until it is forgiven.
pub(super) struct Try {
    throttle: Arc<Throttle>,
    key: String,
    address: IpAddr,
    /// Of whom, if it counts for the account too.
    login: Option<String>,
}

impl Try {
    /// The code was right.
    pub(super) fn forgive(self) {
        if let Some(login) = &self.login {
            self.throttle.forgive_code(login);
        }
        self.throttle.forgive(&self.key, self.address);
    }
}

/// Counts a try of a code.
///
/// # Errors
/// `too-many-tries`.
pub(super) fn begin_try(ctx: &Ctx, account: &accounts::Model, address: IpAddr, code: &str) -> Result<Try> {
    // no login name has a colon
    let (throttle, key) = (ctx.part::<Throttle>(), format!("code:{}", account.login_name));
    let now = ctx.clock.now_ms();
    throttle.begin(&key, address, now).map_err(refusals::too_many_tries)?;
    let login = match Code::parse(code) {
        // its 80 bits are not guessed, and it is the owner's way in when others have used the tries up
        Some(Code::Recovery(_)) => None,
        Some(Code::Timed(_)) | None => Some(account.login_name.clone()),
    };
    if let Some(login) = &login {
        throttle.begin_code(login, now).map_err(refusals::too_many_tries)?;
    }
    Ok(Try { throttle, key, address, login })
}

/// The same where the account has a second factor, and the code if one was typed.
///
/// # Errors
/// `second-factor-needed`, `too-many-tries`.
pub(super) fn begin_where_wanted<'a>(
    ctx: &Ctx,
    (account, has_factor): (&accounts::Model, bool),
    address: IpAddr,
    code: Option<&'a str>,
) -> Result<(Option<&'a str>, Option<Try>)> {
    let code = code.filter(|code| !code.trim().is_empty());
    if !has_factor {
        return Ok((code, None));
    }
    let typed = code.ok_or_else(refusals::code_needed)?;
    Ok((code, Some(begin_try(ctx, account, address, typed)?)))
}

/// The same, for who has not asked yet whether there is a second factor.
///
/// # Errors
/// `second-factor-needed`, `too-many-tries`.
pub(super) async fn begin<'a>(
    ctx: &Ctx,
    account: &accounts::Model,
    address: IpAddr,
    code: Option<&'a str>,
) -> Result<(Option<&'a str>, Option<Try>)> {
    let has_factor = store::has_factor(&ctx.db.conn, account.id).await?;
    begin_where_wanted(ctx, (account, has_factor), address, code)
}

/// The code was right, if one was asked for.
pub(super) fn forgive(throttled: Option<Try>) {
    if let Some(throttled) = throttled {
        throttled.forgive();
    }
}

/// The caller's account.
pub(super) async fn account_of(ctx: &Ctx, who: &SignedIn) -> Result<accounts::Model> {
    store::account(&ctx.db.conn, who.account).await?.ok_or_else(|| Problem::new(&NOT_FOUND))
}

/// What is kept of a recovery code. Its 80 bits are random: a slow hash would add nothing.
pub(super) fn code_hash(account: Uuid, code: &str) -> Vec<u8> {
    store::secret_hash(&format!("{account}:{code}"))
}

/// The step for which a code by time is good now, if it is one.
pub(super) fn step(row: &second_factors::Model, code: &str, now: i64) -> Option<i64> {
    match Code::parse(code) {
        Some(Code::Timed(code)) => good_step(&row.secret, code, now, row.last_step),
        Some(Code::Recovery(_)) | None => None,
    }
}

/// Takes a code if the account has a second factor now; whether it has.
///
/// # Errors
/// `second-factor-needed`, `code-wrong`.
pub(super) async fn take_where_wanted(w: &mut Write, account: Uuid, code: Option<&str>) -> Result<bool> {
    let row = store::lock_factor(w.tx(), account).await?;
    if row.is_none_or(|row| row.confirmed_ms.is_none()) {
        return Ok(false);
    }
    let code = code.ok_or_else(refusals::code_needed)?;
    if take(w, account, code).await? { Ok(true) } else { Err(refusals::code_wrong()) }
}

/// Takes a code of an account's second factor, by time or for recovery: each is good once.
pub(super) async fn take(w: &mut Write, account: Uuid, code: &str) -> Result<bool> {
    let row = store::lock_factor(w.tx(), account).await?.filter(|row| row.confirmed_ms.is_some());
    let Some(mut row) = row else { return Ok(false) };
    if let Some(Code::Recovery(code)) = Code::parse(code) {
        let used = store::use_code(w.tx(), account, &code_hash(account, &code), w.now).await?;
        if used {
            w.audit("accounts", format!("account {account} used a recovery code"));
        }
        return Ok(used);
    }
    let Some(step) = step(&row, code, w.now) else { return Ok(false) };
    row.last_step = Some(step);
    store::save_factor(w.tx(), row).await?;
    Ok(true)
}
