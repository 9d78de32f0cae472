//! Accepting an invitation: an account unless there is one, membership and roles, in one write.

use tarn_domain::clubs::Role;
use uuid::Uuid;

use super::super::refusals::INVITATION_UNKNOWN;
use super::super::store;
use super::membership;
use super::roles::may_hold_office;
use crate::accounts::actions::{
    NewAccount, Opened, hash_password, open_account, open_session, open_with_token,
};
use crate::accounts::store::{self as accounts_store, secret_hash};
use crate::entities::{accounts, clubs, invitations};
use crate::platform::errors::NOT_FOUND;
use crate::platform::messages::{self, Line};
use crate::platform::{Actor, Ctx, Problem, Result, Write, write};

/// What somebody typed to get an account.
pub struct Accept<'a> {
    /// The invitation.
    pub token: &'a str,
    /// To sign in with.
    pub login_name: &'a str,
    /// Where to write to.
    pub email: &'a str,
    /// What others read.
    pub shown_name: &'a str,
    /// The password.
    pub password: &'a str,
    /// What signs in, in words for the list of sessions.
    pub what: &'a str,
    /// A browser gets a cookie instead of a refresh token.
    pub browser: bool,
}

/// The club an invitation leads into, while the invitation is good.
pub async fn invited(ctx: &Ctx, token: &str) -> Result<Option<clubs::Model>> {
    let row = store::invitation(&ctx.db.conn, &secret_hash(token)).await?;
    let row = good(row, ctx.clock.now_ms())?;
    match row.club {
        Some(club) => store::club(&ctx.db.conn, club).await,
        None => Ok(None),
    }
}

/// Makes the account, and signs it in.
pub async fn accept(ctx: &Ctx, wanted: Accept<'_>) -> Result<Opened> {
    let hash = secret_hash(wanted.token);
    // Nothing is said about names to somebody without an invitation, and nothing is hashed for them.
    good(store::invitation(&ctx.db.conn, &hash).await?, ctx.clock.now_ms())?;
    let new = NewAccount::parse(wanted.login_name, wanted.email, wanted.shown_name, wanted.password)?;
    let password = hash_password(ctx, wanted.password).await?;
    write(ctx, &Actor::Server, async |w| {
        let row = good(store::lock_invitation(w.tx(), &hash).await?, w.now)?;
        let account = open_account(w, &new, &password).await?;
        enter(w, &row, &account).await?;
        if wanted.browser {
            open_session(w, account, wanted.what).await
        } else {
            open_with_token(w, account, wanted.what).await
        }
    })
    .await
}

fn good(row: Option<invitations::Model>, now: i64) -> Result<invitations::Model> {
    row.filter(|row| row.used_ms.is_none() && row.expires_ms > now)
        .ok_or_else(|| Problem::new(&INVITATION_UNKNOWN))
}

/// The same for somebody who has an account: it is in one more club.
pub async fn join(ctx: &Ctx, actor: &Actor, account: Uuid, token: &str) -> Result<Option<Uuid>> {
    let hash = secret_hash(token);
    write(ctx, actor, async |w| {
        let row = good(store::lock_invitation(w.tx(), &hash).await?, w.now)?;
        let account = accounts_store::account(w.tx(), account).await?;
        let account = account.ok_or_else(|| Problem::new(&NOT_FOUND))?;
        enter(w, &row, &account).await?;
        Ok(row.club)
    })
    .await
}

async fn enter(w: &mut Write, row: &invitations::Model, account: &accounts::Model) -> Result<()> {
    let id = account.id;
    store::use_invitation(w.tx(), &row.hash, id, w.now).await?;
    let Some(club) = row.club else { return Ok(()) };
    store::lock_club(w.tx(), club).await?;
    membership::begin(w, club, account, row.person).await?;
    let roles = row.role.as_deref().unwrap_or_default().split(' ').filter_map(Role::parse);
    let roles: Vec<Role> = roles.filter(|role| *role != Role::Member).collect();
    if !roles.is_empty() {
        may_hold_office(w, club, id).await?;
    }
    if accounts_store::young(w.tx(), id).await?.is_some() {
        let name = store::club(w.tx(), club).await?.map(|row| row.name).unwrap_or_default();
        let fact = format!("clubs:joined:{club}:{}", w.now);
        let (text, href) = (format!("You are a member of {name} now."), Some(format!("/clubs/{club}")));
        // and so is told who answers for them
        messages::tell(w, Line { account: id, fact: &fact, text: &text, href }).await?;
    }
    for role in roles {
        store::add_role(w.tx(), club, id, role, w.now).await?;
    }
    w.audit_of(club, "clubs", format!("account {id} joined club {club}"));
    Ok(())
}
