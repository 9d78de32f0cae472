//! A member makes the account of somebody under age in their care, and agrees to it; an officer says that somebody is of
//! age.

use uuid::Uuid;

use super::super::refusals::GUESTS_ANSWER_FOR_NOBODY;
use super::super::store;
use super::membership;
use super::officer::tell_officers;
use crate::accounts::actions::{NewAccount, grown, hash_password, is_young, open_account};
use crate::accounts::store as accounts_store;
use crate::entities::accounts;
use crate::platform::auth::SignedIn;
use crate::platform::errors::{INVALID, NOT_FOUND};
use crate::platform::{Ctx, Problem, Result, Write, write};

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
/// `invalid`, `by-guardian`, `guests-answer-for-nobody`, `too-many-young`, `login-name-taken`, `password-weak`, `busy-now`.
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
        // the guardian first, as whoever closes an account does
        accounts_store::lock_account(w.tx(), who.account).await?;
        store::lock_club(w.tx(), club).await?;
        if store::person_of(w.tx(), club, who.account).await?.is_some_and(|line| line.guest) {
            return Err(Problem::new(&GUESTS_ANSWER_FOR_NOBODY));
        }
        let account = open_account(w, &new, &password).await?;
        membership::begin(w, club, &account, None).await?;
        is_young(w, &account, who.account).await?;
        let (id, guardian) = (account.id, who.account);
        w.audit_of(
            club,
            "clubs",
            format!("account {id}, under age, joined club {club}; account {guardian} answers for it"),
        );
        tell_officers(w, club, &format!("{} is a member now, under age.", wanted.name.trim())).await?;
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

/// Their guardian said that they are of age: the clubs they belong to are told.
pub(in crate::clubs) async fn told_of_age(w: &mut Write, account: Uuid, guardian: Uuid) -> Result<()> {
    let Some(person) = accounts_store::account(w.tx(), account).await? else { return Ok(()) };
    for member in store::clubs_of(w.tx(), account).await? {
        let club = member.club;
        w.audit_of(
            club,
            "clubs",
            format!("account {account} of club {club} is of age, as account {guardian} says, which answered for it"),
        );
        let text =
            format!("{} is of age, as their guardian says, and a member like others.", person.shown_name);
        tell_officers(w, club, &text).await?;
    }
    Ok(())
}
