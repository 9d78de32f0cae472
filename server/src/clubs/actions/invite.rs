//! Inviting somebody.

use sea_orm::ActiveValue::{NotSet, Set};
use tarn_domain::accounts::Email;
use tarn_domain::clubs::Role;
use uuid::Uuid;

use super::super::store;
use crate::accounts::refusals::not_taken;
use crate::accounts::store::{secret_hash, secret_text};
use crate::entities::invitations;
use crate::platform::{Actor, Ctx, Result, Write, write};

const GOOD_FOR_MS: i64 = 14 * 86_400_000;

/// An invitation that was just made; the token is told once and kept nowhere.
pub struct Invited {
    /// What the invited person needs.
    pub token: String,
    /// Good until, milliseconds.
    pub expires_ms: i64,
}

/// Invites somebody into the club, with a role beside that of a member.
pub async fn invite(
    ctx: &Ctx,
    actor: &Actor,
    club: Uuid,
    email: Option<&str>,
    role: Role,
) -> Result<Invited> {
    let email = email.map(Email::parse).transpose().map_err(|why| not_taken("/email", why))?;
    write(ctx, actor, async |w| make(w, club, email.as_ref(), &[role]).await).await
}

/// Makes the invitation.
pub(super) async fn make(
    w: &mut Write,
    club: Uuid,
    email: Option<&Email>,
    roles: &[Role],
) -> Result<Invited> {
    let token = secret_text(&w.ctx().ids.bytes());
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
    };
    store::insert_invitation(w.tx(), row).await?;
    w.audit_of(club, "clubs", format!("somebody invited into club {club}"));
    Ok(Invited { token, expires_ms })
}
