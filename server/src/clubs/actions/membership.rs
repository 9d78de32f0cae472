//! Belonging to a club, with a login: how it begins, and how it ends.

use sea_orm::ActiveValue::{NotSet, Set};
use tarn_domain::clubs::Role;
use uuid::Uuid;

use super::super::refusals::LAST_SECRETARY;
use super::super::store;
use super::officer::tell_officers;
use crate::accounts::store as accounts_store;
use crate::entities::{accounts, club_people};
use crate::platform::errors::NOT_FOUND;
use crate::platform::{Actor, Ctx, Problem, Result, Write, write};

/// Makes somebody a member, and puts them on the list: on the line that was kept for them, if there is one.
pub(super) async fn begin(
    w: &Write,
    club: Uuid,
    account: &accounts::Model,
    person: Option<Uuid>,
) -> Result<()> {
    store::add_member(w.tx(), club, account.id, w.now).await?;
    if store::person_of(w.tx(), club, account.id).await?.is_some() {
        return Ok(());
    }
    // the list of a club holds the name of who is under age; nobody else reads it
    let young = accounts_store::young(w.tx(), account.id).await?;
    let name = young.map_or_else(|| account.shown_name.clone(), |young| young.name);
    let kept = match person {
        Some(person) => store::lock_person(w.tx(), club, person).await?,
        None => None,
    };
    let kept = kept.filter(|row| row.account.is_none() && row.left_ms.is_none());
    // who comes back stands on the line that they had
    let row = match kept {
        Some(row) => Some(row),
        None => store::lock_person(w.tx(), club, account.id).await?,
    };
    match row {
        Some(row) => {
            let row = club_people::ActiveModel {
                club: Set(club),
                person: Set(row.person),
                account: Set(Some(account.id)),
                left_ms: Set(None),
                version: Set(row.version.saturating_add(1)),
                ..Default::default()
            };
            store::save_person(w.tx(), row).await
        }
        None => {
            let row = club_people::ActiveModel {
                club: Set(club),
                person: Set(account.id),
                account: Set(Some(account.id)),
                number: NotSet,
                name: Set(name),
                email: NotSet,
                household: NotSet,
                guest: Set(false),
                paid_until: NotSet,
                lapsed: Set(false),
                made_ms: Set(w.now),
                left_ms: NotSet,
                version: Set(1),
            };
            store::insert_person(w.tx(), row).await
        }
    }
}

/// Ends it, with all roles; a club keeps its last secretary.
pub(super) async fn end(w: &mut Write, club: Uuid, account: Uuid) -> Result<()> {
    store::lock_club(w.tx(), club).await?;
    if store::accounts_with_role(w.tx(), club, Role::Secretary).await? == [account] {
        return Err(Problem::new(&LAST_SECRETARY));
    }
    end_any(w, club, account).await
}

/// The same, whoever it is.
pub(super) async fn end_any(w: &mut Write, club: Uuid, account: Uuid) -> Result<()> {
    if let Some(line) = store::person_of(w.tx(), club, account).await? {
        store::end_invitations_for(w.tx(), club, line.person, w.now).await?;
    }
    store::end_invitations_by(w.tx(), club, account, w.now).await?;
    store::remove_member(w.tx(), club, account).await?;
    store::off_the_list(w.tx(), club, account, w.now).await?;
    for young in accounts_store::young_of(w.tx(), account).await? {
        if store::roles_held(w.tx(), club, young.account).await?.is_some() {
            let text = format!(
                "Who answers for {} is no member of the club any more; {} still is.",
                young.name, young.name
            );
            tell_officers(w, club, &text).await?;
        }
    }
    w.audit_of(club, "clubs", format!("account {account} left club {club}"));
    Ok(())
}

/// Leaves a club. The records of one's rooms stay one's own; what was sold and paid stays on file.
pub async fn leave(ctx: &Ctx, actor: &Actor, club: Uuid, account: Uuid) -> Result<()> {
    write(ctx, actor, async |w| {
        if store::roles_in(w.tx(), club, account).await?.is_none() {
            return Err(Problem::new(&NOT_FOUND).detail("There is no club with this id."));
        }
        end(w, club, account).await
    })
    .await
}
