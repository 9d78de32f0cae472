//! How many days a notice stands on a club's board.

use sea_orm::ConnectionTrait;
use uuid::Uuid;

use crate::parcels::refusals::invalid;
use crate::parcels::store::notices as store;
use crate::platform::auth::SignedIn;
use crate::platform::{Ctx, Result, write};

/// Unless the club says otherwise.
pub const SHIPPED_DAYS: i32 = 60;

/// A club's.
pub(super) async fn of(conn: &impl ConnectionTrait, club: Uuid) -> Result<i32> {
    Ok(store::notice_days(conn, club).await?.unwrap_or(SHIPPED_DAYS))
}

/// A club's, for its members.
pub async fn notice_days(ctx: &Ctx, club: Uuid) -> Result<i32> {
    of(&ctx.db.conn, club).await
}

/// Sets it, for notices put up from now on.
///
/// # Errors
/// `invalid`.
pub async fn set_notice_days(ctx: &Ctx, who: &SignedIn, club: Uuid, days: i32) -> Result<()> {
    if !(1..=365).contains(&days) {
        return Err(invalid(vec![("notice_days", "A notice stands for 1 to 365 days.".into())]));
    }
    write(ctx, &who.actor(), async |w| {
        store::set_notice_days(w.tx(), club, days).await?;
        w.audit_of(club, "parcels", format!("notices of club {club} stand for {days} days"));
        Ok(())
    })
    .await
}
