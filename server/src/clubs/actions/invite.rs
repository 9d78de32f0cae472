//! Inviting somebody.

use sea_orm::ActiveValue::{NotSet, Set};
use tarn_domain::accounts::Email;
use tarn_domain::clubs::Role;
use uuid::Uuid;

use super::super::mail::letter;
use super::super::refusals::HAS_A_LOGIN;
use super::super::store;
use crate::accounts::refusals::not_taken;
use crate::accounts::store::{secret_hash, secret_text};
use crate::entities::invitations;
use crate::platform::errors::NOT_FOUND;
use crate::platform::html::day_and_time;
use crate::platform::mail::queue;
use crate::platform::{Actor, Ctx, Problem, Result, Write, write};

const GOOD_FOR_MS: i64 = 14 * 86_400_000;

/// An invitation that was just made; the token is told once and kept nowhere.
pub struct Invited {
    /// What the invited person needs.
    pub token: String,
    /// What it is called in the list of open ones.
    pub id: Uuid,
    /// Good until, milliseconds.
    pub expires_ms: i64,
    /// Whether the link goes out by mail.
    pub mailed: bool,
}

/// Who is invited.
pub struct Guest<'a> {
    /// Where to write to; the link goes there if this server sends mail.
    pub email: Option<&'a str>,
    /// A role beside that of a member.
    pub role: Role,
    /// Whose line of the member list it is for.
    pub person: Option<Uuid>,
}

/// Invites somebody into the club. The link goes by mail too if there is an address and this server sends mail.
pub async fn invite(ctx: &Ctx, actor: &Actor, club: Uuid, guest: Guest<'_>) -> Result<Invited> {
    let email = guest.email.map(Email::parse).transpose().map_err(|why| not_taken("/email", why))?;
    write(ctx, actor, async |w| {
        let mut email = email.clone();
        if let Some(person) = guest.person {
            let line = store::person(w.tx(), club, person)
                .await?
                .ok_or_else(|| Problem::new(&NOT_FOUND).detail("Nobody on the list has this id."))?;
            if line.account.is_some() {
                return Err(Problem::new(&HAS_A_LOGIN));
            }
            email = email.or_else(|| line.email.as_deref().and_then(|text| Email::parse(text).ok()));
        }
        let club_name = store::club(w.tx(), club).await?.map_or_else(String::new, |club| club.name);
        let mut invited = make(w, club, email.as_ref(), &[guest.role], guest.person).await?;
        invited.mailed = mail(w, &club_name, email.as_ref(), &invited).await?;
        Ok(invited)
    })
    .await
}

async fn mail(w: &Write, club: &str, email: Option<&Email>, invited: &Invited) -> Result<bool> {
    let config = &w.ctx().config;
    let (Some(email), Some(site), Some(_)) = (email, &config.public_url, &config.mail) else {
        return Ok(false);
    };
    let until = day_and_time(invited.expires_ms);
    queue(w, letter(invited.id, email, club, &format!("{site}/invitation?token={}", invited.token), &until))
        .await?;
    Ok(true)
}

/// Makes the invitation.
pub(super) async fn make(
    w: &mut Write,
    club: Uuid,
    email: Option<&Email>,
    roles: &[Role],
    person: Option<Uuid>,
) -> Result<Invited> {
    let token = secret_text(&w.ctx().ids.bytes());
    let id = w.ctx().ids.new_id(w.now);
    let expires_ms = w.now + GOOD_FOR_MS;
    let row = invitations::ActiveModel {
        hash: Set(secret_hash(&token)),
        club: Set(Some(club)),
        role: Set(Some(roles.iter().map(|role| role.as_str()).collect::<Vec<_>>().join(" "))),
        invited_by: Set(w.actor.account()),
        email: Set(email.map(|email| email.as_str().to_owned())),
        made_ms: Set(w.now),
        expires_ms: Set(expires_ms),
        used_ms: NotSet,
        used_by: NotSet,
        id: Set(Some(id)),
        person: Set(person),
    };
    store::insert_invitation(w.tx(), row).await?;
    w.audit_of(club, "clubs", format!("somebody invited into club {club}"));
    Ok(Invited { token, id, expires_ms, mailed: false })
}
