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

#[cfg(test)]
mod tests {
    use std::path::Path;

    use tarn_domain::accounts::GRACE_MS;

    use super::*;
    use crate::accounts::actions::{NewAccount, open_account, open_with_token};
    use crate::platform::config::{Config, Settings};

    /// The same database, with the clock put forward.
    async fn later(folder: &Path, by_ms: i64) -> Ctx {
        let settings = Settings { data: folder.into(), ..Settings::default() };
        let mut config = Config::load_offline(&settings).expect("settings");
        config.clock_offset_ms = by_ms;
        Ctx::open(config).await.expect("opened")
    }

    async fn signed_in(ctx: &Ctx) -> String {
        let new = NewAccount::parse("mira", "mira@example.org", "Mira", "moss on the sill").expect("good");
        let opened = write(ctx, &Actor::Server, async |w| {
            let account = open_account(w, &new, "no hash").await?;
            open_with_token(w, account, "a test").await
        });
        opened.await.expect("opened").refresh_token.expect("a token")
    }

    async fn renewed(ctx: &Ctx, token: &str) -> Option<String> {
        match renew(ctx, token).await {
            Ok(opened) => opened.refresh_token,
            Err(problem) => {
                assert_eq!(problem.kind(), &SESSION_ENDED);
                None
            }
        }
    }

    #[tokio::test]
    async fn a_lost_answer_costs_nothing_and_a_repeated_request_does_no_harm() {
        let folder = tempfile::tempdir().expect("a folder");
        let ctx = later(folder.path(), 0).await;
        let first = signed_in(&ctx).await;
        let lost = renewed(&ctx, &first).await.expect("renewed");
        let second = renewed(&ctx, &first).await.expect("renewed again");
        assert_ne!(lost, second);
        let third = renewed(&ctx, &second).await.expect("the session goes on");
        // What was lost on the way can only be in the wrong hands by now.
        assert_eq!(renewed(&ctx, &lost).await, None);
        assert_eq!(renewed(&ctx, &third).await, None, "and it ended the session");
    }

    #[tokio::test]
    async fn a_copy_ends_the_session_for_everybody() {
        let folder = tempfile::tempdir().expect("a folder");
        let ctx = later(folder.path(), 0).await;
        let first = signed_in(&ctx).await;
        let second = renewed(&ctx, &first).await.expect("renewed");
        let afterwards = later(folder.path(), GRACE_MS + 60_000).await;
        assert_eq!(renewed(&afterwards, &first).await, None);
        assert_eq!(renewed(&afterwards, &second).await, None);
        assert_eq!(renewed(&afterwards, "never given").await, None);
    }
}
