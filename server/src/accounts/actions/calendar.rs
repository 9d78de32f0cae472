//! A calendar at a secret address: made, renewed, ended, read. The secret is told once and kept nowhere.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use std::net::IpAddr;
use uuid::Uuid;

use super::super::{refusals, store};
use super::throttle::Throttle;
use crate::platform::auth::SignedIn;
use crate::platform::errors::NOT_FOUND;
use crate::platform::{Ctx, Problem, Result, ahead, ical, write};

/// What a calendar is called where it is shown.
const NAME: &str = "Tarn";

/// Makes the address of the caller's calendar; one that was there before is good no more. The path, without the site.
pub async fn new_calendar(ctx: &Ctx, who: &SignedIn) -> Result<String> {
    let secret = URL_SAFE_NO_PAD.encode(ctx.ids.bytes::<16>());
    write(ctx, &who.actor(), async |w| {
        store::save_calendar(w.tx(), who.account, &store::secret_hash(&secret), w.now).await?;
        w.audit("accounts", format!("account {} made a calendar's address", who.account));
        Ok(())
    })
    .await?;
    Ok(format!("/calendar/{secret}.ics"))
}

/// Ends the caller's calendar.
///
/// # Errors
/// `not-found` if there is none.
pub async fn end_calendar(ctx: &Ctx, who: &SignedIn) -> Result<()> {
    write(ctx, &who.actor(), async |w| {
        if !store::end_calendar(w.tx(), who.account).await? {
            return Err(Problem::new(&NOT_FOUND));
        }
        w.audit("accounts", format!("account {} ended its calendar", who.account));
        Ok(())
    })
    .await
}

/// The calendar at a secret.
///
/// # Errors
/// `not-found` for a wrong or ended one, and `too-many-tries` for who tries many: whoever has a good one is not held up
/// by others at the same address.
pub async fn calendar(ctx: &Ctx, secret: &str, address: IpAddr) -> Result<String> {
    let account = match store::calendar_by_hash(&ctx.db.conn, &store::secret_hash(secret)).await? {
        Some(feed) => store::account(&ctx.db.conn, feed.account).await?.filter(|a| a.closed_ms.is_none()),
        None => None,
    };
    let Some(account) = account else {
        wrong_secret(ctx, address)?;
        return Err(Problem::new(&NOT_FOUND));
    };
    read(ctx, account.id).await
}

/// Counts a try of a secret address where nothing is.
///
/// # Errors
/// `too-many-tries` for who tries many.
pub fn wrong_secret(ctx: &Ctx, address: IpAddr) -> Result<()> {
    let tries = ctx.part::<Throttle>();
    tries.wrong_secret(address, ctx.clock.now_ms()).map_err(refusals::too_many_tries)
}

async fn read(ctx: &Ctx, account: Uuid) -> Result<String> {
    Ok(ical::calendar(NAME, &ahead::of(ctx, account).await?, ctx.config.public_url.as_deref()))
}
