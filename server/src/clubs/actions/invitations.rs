//! The invitations that are open, and taking one back.

use uuid::Uuid;

use super::super::store;
use crate::entities::invitations;
use crate::platform::errors::NOT_FOUND;
use crate::platform::{Actor, Ctx, Problem, Result, write};

/// Those into a club that are still good, the newest first.
pub async fn open_invitations(ctx: &Ctx, club: Uuid) -> Result<Vec<invitations::Model>> {
    store::invitations_of(&ctx.db.conn, club, ctx.clock.now_ms()).await
}

/// Takes one back: whoever has its link can do nothing with it. Taking back what is over is done already.
pub async fn take_back(ctx: &Ctx, actor: &Actor, club: Uuid, id: Uuid) -> Result<()> {
    write(ctx, actor, async |w| {
        let row = store::lock_invitation_by_id(w.tx(), club, id).await?;
        let row =
            row.ok_or_else(|| Problem::new(&NOT_FOUND).detail("The club made no invitation with this id."))?;
        if row.used_ms.is_none() && row.expires_ms > w.now {
            store::end_invitation(w.tx(), &row.hash, w.now).await?;
            w.audit_of(club, "clubs", format!("invitation {id} into club {club} taken back"));
        }
        Ok(())
    })
    .await
}
