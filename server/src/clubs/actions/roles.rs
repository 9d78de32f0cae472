//! Giving and taking roles.

use tarn_domain::accounts::Age;
use tarn_domain::clubs::Role;
use uuid::Uuid;

use super::super::refusals::{GUESTS_ARE_NO_OFFICERS, LAPSED_ARE_NO_OFFICERS, LAST_SECRETARY};
use super::super::store;
use crate::accounts::refusals::BY_GUARDIAN;
use crate::accounts::store::young;
use crate::platform::errors::{INVALID, NOT_FOUND};
use crate::platform::{Actor, Ctx, Problem, Result, Write, write};

/// Gives a member a role; giving it twice is giving it.
pub async fn give_role(ctx: &Ctx, actor: &Actor, club: Uuid, account: Uuid, role: Role) -> Result<()> {
    must_be_a_role(role)?;
    write(ctx, actor, async |w| {
        must_be_member(w, club, account).await?;
        store::lock_club(w.tx(), club).await?;
        may_hold_office(w, club, account).await?;
        store::add_role(w.tx(), club, account, role, w.now).await?;
        w.audit_of(club, "clubs", format!("account {account} is {role} of club {club}"));
        Ok(())
    })
    .await
}

/// Who holds an office is a member, of age, whose membership has not lapsed.
///
/// # Errors
/// `guests-are-no-officers`, `lapsed-are-no-officers`, `by-guardian`.
pub(super) async fn may_hold_office(w: &Write, club: Uuid, account: Uuid) -> Result<()> {
    if let Some(line) = store::person_of(w.tx(), club, account).await? {
        if line.guest {
            return Err(Problem::new(&GUESTS_ARE_NO_OFFICERS));
        }
        if line.lapsed {
            return Err(Problem::new(&LAPSED_ARE_NO_OFFICERS));
        }
    }
    let age = Age::of(young(w.tx(), account).await?.is_some());
    if !age.may_answer_for_others() {
        return Err(Problem::new(&BY_GUARDIAN).detail("Somebody under age holds no office."));
    }
    Ok(())
}

/// Takes a role away; a club keeps its last secretary. What a secretary invited to and nobody came by is over with the
/// role.
pub async fn take_role(ctx: &Ctx, actor: &Actor, club: Uuid, account: Uuid, role: Role) -> Result<()> {
    must_be_a_role(role)?;
    write(ctx, actor, async |w| {
        must_be_member(w, club, account).await?;
        store::lock_club(w.tx(), club).await?;
        if role == Role::Secretary && store::accounts_with_role(w.tx(), club, role).await? == [account] {
            return Err(Problem::new(&LAST_SECRETARY));
        }
        store::remove_role(w.tx(), club, account, role).await?;
        if role == Role::Secretary {
            store::end_invitations_by(w.tx(), club, account, w.now).await?;
        }
        w.audit_of(club, "clubs", format!("account {account} is no {role} of club {club} any more"));
        Ok(())
    })
    .await
}

/// Belonging to the club is neither given nor taken like an office.
fn must_be_a_role(role: Role) -> Result<()> {
    if role != Role::Member {
        return Ok(());
    }
    let why = "Membership is no role. An invitation makes a member; the member list ends it.";
    Err(Problem::new(&INVALID).detail(why).at("/role", why))
}

async fn must_be_member(w: &Write, club: Uuid, account: Uuid) -> Result<()> {
    match store::roles_in(w.tx(), club, account).await? {
        Some(_) => Ok(()),
        None => Err(Problem::new(&NOT_FOUND).detail("The club has no such member.")),
    }
}
