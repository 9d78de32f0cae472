//! Renewing a session with its refresh token.

use tarn_domain::accounts::{RefreshToken, Renewal, renew as judge};

use super::super::store;
use super::sessions::{Opened, give_token};
use crate::platform::auth::is_alive;
use crate::platform::errors::SESSION_ENDED;
use crate::platform::{Actor, Ctx, Problem, Result, Write, write};

/// A new refresh token for an old one. A copy that is used later ends the session for everybody who holds one.
pub async fn renew(ctx: &Ctx, token: &str) -> Result<Opened> {
    let hash = store::secret_hash(token);
    let renewed = write(ctx, &Actor::Server, async |w| replace(w, &hash).await).await?;
    renewed.ok_or_else(|| Problem::new(&SESSION_ENDED))
}

/// None when there is nothing to renew; a session that had to be ended for that stays ended.
async fn replace(w: &mut Write, hash: &[u8]) -> Result<Option<Opened>> {
    let Some(token) = store::token(w.tx(), hash).await? else { return Ok(None) };
    // One at a time for each session; what was read before the lock is read again.
    let Some(session) = store::lock_session(w.tx(), token.session).await? else { return Ok(None) };
    let Some(token) = store::token(w.tx(), hash).await? else { return Ok(None) };
    let Some(account) = store::account(w.tx(), session.account).await? else { return Ok(None) };
    if !is_alive(&session, w.now) || account.closed_ms.is_some() {
        return Ok(None);
    }
    let replacement_used = store::a_replacement_was_used(w.tx(), hash).await?;
    if judge(RefreshToken { first_used_ms: token.first_used_ms, replacement_used }, w.now)
        == Renewal::EndSession
    {
        store::end_session(w.tx(), session.id, w.now).await?;
        w.audit("accounts", format!("session {} ended: an old refresh token was used again", session.id));
        return Ok(None);
    }
    if token.first_used_ms.is_none() {
        store::use_token(w.tx(), &token, w.now).await?;
    }
    store::renew_session(w.tx(), session.id, w.now).await?;
    let fresh = give_token(w, session.id, Some(token.hash)).await?;
    Ok(Some(Opened { account, session: session.id, refresh_token: Some(fresh) }))
}
