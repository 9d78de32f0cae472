//! The operator's way to make a club and its officers, at any time.

use sea_orm::ActiveValue::Set;
use tarn_domain::accounts::LoginName;
use tarn_domain::clubs::Role;
use uuid::Uuid;

use super::super::store;
use super::invite::{Invited, make};
use super::membership;
use crate::accounts::refusals::not_taken;
use crate::accounts::store::{account_by_login, clubs_of};
use crate::entities::clubs;
use crate::platform::messages::{self, Line};
use crate::platform::{Actor, Ctx, Result, Write, write};

/// What came of it.
pub enum Added {
    /// The account is there and has the roles now.
    Done {
        /// Which club.
        club: clubs::Model,
    },
    /// There is no such account yet: the invitation carries the roles.
    Invited {
        /// Which club.
        club: clubs::Model,
        /// The invitation.
        invited: Invited,
    },
}

/// Gives somebody roles in a club; the club is made if there is none of this name.
pub async fn add_officer(ctx: &Ctx, login_name: &str, club_name: &str, roles: &[Role]) -> Result<Added> {
    let login = LoginName::parse(login_name).map_err(|why| not_taken("/login", why))?;
    let club_name = club_name.trim();
    if club_name.is_empty() || club_name.chars().count() > 80 || club_name.chars().any(char::is_control) {
        return Err(not_taken("/club", "A club's name has 1 to 80 signs."));
    }
    write(ctx, &Actor::Operator, async |w| {
        let club = club_named(w, club_name).await?;
        let words = roles.iter().map(|role| role.words()).collect::<Vec<_>>().join(", ");
        tell_officers(w, club.id, &format!("The operator made {login} an officer ({words}).")).await?;
        let Some(account) = account_by_login(w.tx(), &login).await? else {
            let invited = make(w, club.id, None, roles, None).await?;
            return Ok(Added::Invited { club, invited });
        };
        membership::begin(w, club.id, &account, None).await?;
        for role in roles {
            store::add_role(w.tx(), club.id, account.id, *role, w.now).await?;
        }
        w.audit_of(
            club.id,
            "clubs",
            format!("the operator gave account {} the roles {words} in club {}", account.id, club.id),
        );
        Ok(Added::Done { club })
    })
    .await
}

async fn club_named(w: &mut Write, name: &str) -> Result<clubs::Model> {
    if let Some(club) = store::club_named(w.tx(), name).await? {
        return Ok(club);
    }
    let row = clubs::ActiveModel {
        id: Set(w.ctx().ids.new_id(w.now)),
        name: Set(name.to_owned()),
        made_ms: Set(w.now),
        officers_need_factor: Set(false),
    };
    let club = store::insert_club(w.tx(), row).await?;
    w.audit_of(club.id, "clubs", format!("club {} made by the operator", club.id));
    Ok(club)
}

/// A line on the page of every secretary of the club.
pub async fn tell_officers(w: &Write, club: Uuid, text: &str) -> Result<()> {
    for account in store::accounts_with_role(w.tx(), club, Role::Secretary).await? {
        // An act of its own each time, even if the words are the same.
        let fact = format!("clubs:{club}:{}", w.ctx().ids.new_id(w.now));
        messages::tell(w, Line { account, fact: &fact, text, href: None }).await?;
    }
    Ok(())
}

/// The same, for every club that the account belongs to.
pub async fn tell_officers_of(ctx: &Ctx, account: Uuid, text: &str) -> Result<()> {
    write(ctx, &Actor::Operator, async |w| {
        for (club, _) in clubs_of(w.tx(), account).await? {
            tell_officers(w, club.id, text).await?;
        }
        Ok(())
    })
    .await
}
