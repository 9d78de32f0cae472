//! Whether a club wants a second factor of its officers, and what those are told who have none.

use tarn_domain::clubs::Role;
use uuid::Uuid;

use super::super::refusals::{SECOND_FACTOR_REQUIRED, role_missing, second_factor_required};
use super::super::store;
use super::officer::tell_officers;
use crate::accounts::store::{has_factor, waiting_roles_of};
use crate::platform::auth::SignedIn;
use crate::platform::{Ctx, Problem, Result, write};

/// Says whether the club wants a second factor of its officers. Whoever asks it of others has one.
///
/// # Errors
/// `second-factor-required`.
pub async fn require_factor(ctx: &Ctx, who: &SignedIn, club: Uuid, wanted: bool) -> Result<()> {
    write(ctx, &who.actor(), async |w| {
        store::lock_club(w.tx(), club).await?;
        if store::needs_factor(w.tx(), club).await? == wanted {
            return Ok(());
        }
        if wanted && !has_factor(w.tx(), who.account).await? {
            let why = "You ask of the officers what you don't have: set up your own second factor first, on the page of \
                your account.";
            return Err(Problem::new(&SECOND_FACTOR_REQUIRED).detail(why));
        }
        store::set_needs_factor(w.tx(), club, wanted).await?;
        let (fact, told) = if wanted {
            ("wants", "The club wants a second factor of its officers now. Without one their roles don't count.")
        } else {
            ("no longer wants", "The club no longer wants a second factor of its officers.")
        };
        w.audit_of(club, "clubs", format!("club {club} {fact} a second factor of its officers"));
        tell_officers(w, club, told).await
    })
    .await
}

/// Why a member without this role is refused: they hold it and it waits, or they don't.
pub async fn refused(ctx: &Ctx, club: Uuid, account: Uuid, roles: &[Role]) -> Result<Problem> {
    let held = store::roles_held(&ctx.db.conn, club, account).await?.unwrap_or_default();
    if held.iter().any(|role| roles.contains(role))
        && let Some(club) = store::club(&ctx.db.conn, club).await?
    {
        return Ok(second_factor_required(&club.name));
    }
    Ok(role_missing(roles.first().copied().unwrap_or(Role::Secretary)))
}

/// The same where it is not said which club: none, if no club of theirs has them wait with this role.
pub async fn waits_for_a_factor(ctx: &Ctx, account: Uuid, role: Role) -> Result<Option<Problem>> {
    let waiting = waiting_roles_of(&ctx.db.conn, account).await?;
    let found = waiting.into_iter().find(|(_, roles)| roles.iter().any(|held| held == role.as_str()));
    Ok(found.map(|(club, _)| second_factor_required(&club.name)))
}
