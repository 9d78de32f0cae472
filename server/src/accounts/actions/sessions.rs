//! Opening and ending sessions.

use sea_orm::ActiveValue::{NotSet, Set};
use uuid::Uuid;

use super::super::store;
use crate::entities::{accounts, refresh_tokens, sessions};
use crate::platform::auth::SignedIn;
use crate::platform::errors::NOT_FOUND;
use crate::platform::{Actor, Ctx, Problem, Result, Write, write};

/// The longest description of what signed in.
const WHAT_MOST: usize = 80;

/// A session that was just opened or renewed.
pub struct Opened {
    /// Whose it is.
    pub account: accounts::Model,
    /// Its id.
    pub session: Uuid,
    /// What renews it; none for browsers, which have a cookie.
    pub refresh_token: Option<String>,
}

/// Opens a session that is held by a cookie.
pub async fn open_session(w: &Write, account: accounts::Model, what: &str) -> Result<Opened> {
    let session = w.ctx().ids.new_id(w.now);
    let what: String = what.chars().filter(|c| !c.is_control()).take(WHAT_MOST).collect();
    let row = sessions::ActiveModel {
        id: Set(session),
        account: Set(account.id),
        started_ms: Set(w.now),
        ended_ms: NotSet,
        last_seen_ms: Set(w.now),
        what: Set(if what.is_empty() { "something that does not say what it is".into() } else { what }),
    };
    store::insert_session(w.tx(), row).await?;
    Ok(Opened { account, session, refresh_token: None })
}

/// Opens a session that is held by a refresh token.
pub async fn open_with_token(w: &Write, account: accounts::Model, what: &str) -> Result<Opened> {
    let opened = open_session(w, account, what).await?;
    let token = give_token(w, opened.session, None).await?;
    Ok(Opened { refresh_token: Some(token), ..opened })
}

/// A new refresh token for the session, in the place of `parent`.
pub(super) async fn give_token(w: &Write, session: Uuid, parent: Option<Vec<u8>>) -> Result<String> {
    let token = store::secret_text(&w.ctx().ids.bytes());
    let row = refresh_tokens::ActiveModel {
        hash: Set(store::secret_hash(&token)),
        session: Set(session),
        issued_ms: Set(w.now),
        first_used_ms: NotSet,
        parent: Set(parent),
    };
    store::insert_token(w.tx(), row).await?;
    Ok(token)
}

/// Ends one of the account's own sessions; ending it twice is ending it.
pub async fn end_session(ctx: &Ctx, actor: &Actor, session: Uuid) -> Result<()> {
    write(ctx, actor, async |w| {
        let row = store::lock_session(w.tx(), session).await?;
        let own = row.filter(|row| Some(row.account) == w.actor.account());
        let row = own.ok_or_else(|| Problem::new(&NOT_FOUND).detail("You have no such session."))?;
        store::end_session(w.tx(), row.id, w.now).await?;
        w.audit("accounts", format!("session {session} ended"));
        Ok(())
    })
    .await
}

/// Ends the session that a browser had, in whose place another was opened. It may have ended before.
pub async fn end_replaced_session(ctx: &Ctx, session: Uuid) -> Result<()> {
    write(ctx, &Actor::Server, async |w| {
        let row = store::lock_session(w.tx(), session).await?;
        if row.is_some_and(|row| row.ended_ms.is_none()) {
            store::end_session(w.tx(), session, w.now).await?;
            w.audit("accounts", format!("session {session} ended: another was opened in its browser"));
        }
        Ok(())
    })
    .await
}

/// Ends all of the caller's sessions but this one.
pub async fn end_other_sessions(ctx: &Ctx, who: &SignedIn) -> Result<()> {
    write(ctx, &who.actor(), async |w| {
        store::end_sessions_but(w.tx(), who.account, Some(who.session), w.now).await?;
        w.audit("accounts", format!("other sessions of account {} ended", who.account));
        Ok(())
    })
    .await
}
