//! A member makes the account of somebody under age in their care, and agrees to it; an officer says that somebody is of
//! age.

use uuid::Uuid;

use super::super::store;
use super::membership;
use crate::accounts::actions::{NewAccount, grown, hash_password, is_young, open_account};
use crate::accounts::store as accounts_store;
use crate::entities::accounts;
use crate::platform::auth::SignedIn;
use crate::platform::errors::{INVALID, NOT_FOUND};
use crate::platform::{Ctx, Problem, Result, write};

/// What a guardian typed.
pub struct NewYoung<'a> {
    /// What the young one signs in with.
    pub login_name: &'a str,
    /// What they are called; only the guardian, the club's list and they themselves read it.
    pub name: &'a str,
    /// Their password.
    pub password: &'a str,
    /// Whether the guardian says that they answer for them and agree.
    pub agreed: bool,
}

/// Makes the account, a member of the club too.
///
/// # Errors
/// `invalid`, `by-guardian`, `login-name-taken`, `password-weak`, `busy-now`.
pub async fn open_young(
    ctx: &Ctx,
    who: &SignedIn,
    club: Uuid,
    wanted: NewYoung<'_>,
) -> Result<accounts::Model> {
    if !wanted.agreed {
        let why = "Say that you answer for them and agree.";
        return Err(Problem::new(&INVALID).detail(why).at("/agreed", why));
    }
    let new = NewAccount::parse(wanted.login_name, "", wanted.name, wanted.password)?;
    let password = hash_password(ctx, wanted.password).await?;
    write(ctx, &who.actor(), async |w| {
        store::lock_club(w.tx(), club).await?;
        let account = open_account(w, &new, &password).await?;
        membership::begin(w, club, &account, None).await?;
        is_young(w, &account, who.account).await?;
        let (id, guardian) = (account.id, who.account);
        w.audit_of(
            club,
            "clubs",
            format!("account {id}, under age, joined club {club}; account {guardian} answers for it"),
        );
        Ok(account)
    })
    .await
}

/// An officer says that a member is of age.
///
/// # Errors
/// `not-found` for who is no member of the club, or not under age.
pub async fn no_longer_young(ctx: &Ctx, who: &SignedIn, club: Uuid, account: Uuid) -> Result<()> {
    write(ctx, &who.actor(), async |w| {
        let nothing = || Problem::new(&NOT_FOUND).detail("The club has no member under age with this id.");
        store::roles_in(w.tx(), club, account).await?.ok_or_else(nothing)?;
        let young = accounts_store::young(w.tx(), account).await?.ok_or_else(nothing)?;
        w.audit_of(club, "clubs", format!("account {account} is of age, as club {club} says"));
        grown(w, &young).await
    })
    .await
}
