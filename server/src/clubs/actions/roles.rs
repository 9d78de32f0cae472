//! Giving and taking roles.

use tarn_domain::clubs::Role;
use uuid::Uuid;

use super::super::refusals::LAST_SECRETARY;
use super::super::store;
use crate::platform::errors::NOT_FOUND;
use crate::platform::{Actor, Ctx, Problem, Result, Write, write};

/// Gives a member a role; giving it twice is giving it.
pub async fn give_role(ctx: &Ctx, actor: &Actor, club: Uuid, account: Uuid, role: Role) -> Result<()> {
    write(ctx, actor, async |w| {
        must_be_member(w, club, account).await?;
        store::add_role(w.tx(), club, account, role, w.now).await?;
        w.audit_of(club, "clubs", format!("account {account} is {role} of club {club}"));
        Ok(())
    })
    .await
}

/// Takes a role away; a club keeps its last secretary.
pub async fn take_role(ctx: &Ctx, actor: &Actor, club: Uuid, account: Uuid, role: Role) -> Result<()> {
    write(ctx, actor, async |w| {
        must_be_member(w, club, account).await?;
        store::lock_club(w.tx(), club).await?;
        if role == Role::Secretary && store::accounts_with_role(w.tx(), club, role).await? == [account] {
            return Err(Problem::new(&LAST_SECRETARY));
        }
        store::remove_role(w.tx(), club, account, role).await?;
        w.audit_of(club, "clubs", format!("account {account} is no {role} of club {club} any more"));
        Ok(())
    })
    .await
}

async fn must_be_member(w: &Write, club: Uuid, account: Uuid) -> Result<()> {
    match store::roles_in(w.tx(), club, account).await? {
        Some(_) => Ok(()),
        None => Err(Problem::new(&NOT_FOUND).detail("The club has no such member.")),
    }
}
