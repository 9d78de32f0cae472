//! Registers a device for a stream and its present epoch. Doing it again changes nothing.

use tarn_domain::streams::{AccountId, DeviceId, EpochId, StreamId};

use super::list::may;
use crate::platform::auth::{SignedIn, began_ms, still_alive};
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result, write::write};
use crate::streams::actions::areas::Right;
use crate::streams::refusals::{DEVICE_ENDED, DEVICE_NOT_YOURS};
use crate::streams::store::{self, Device};

/// A registered device, and where the stream stands.
#[derive(Debug, Clone, Copy)]
pub struct Registered {
    /// The stream's epoch.
    pub epoch: EpochId,
    /// Its head.
    pub head: u64,
}

/// Registers a device of the caller. One that was ended goes on in a session that began afterwards: whoever has it has
/// signed in anew.
///
/// # Errors
/// `not-found` for a stream the account may not write; `device-not-yours` for an id that is taken; `device-ended`;
/// `session-ended`.
pub async fn register(
    ctx: &Ctx,
    who: &SignedIn,
    stream: StreamId,
    device: DeviceId,
    name: &str,
) -> Result<Registered> {
    let account = AccountId(who.account);
    may(ctx, account, stream, Right::Write).await?;
    let row = store::stream(&ctx.db.conn, stream).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let known = Registered { epoch: row.epoch, head: row.head };
    let taken = || Problem::new(&DEVICE_NOT_YOURS);
    // Derived ids (version 5) are those of decisions and of pages: nobody registers one.
    if device.0.get_version_num() == 5 {
        return Err(taken());
    }
    // A sync begins here, so the usual case must not open a write.
    let usual = |there: &Device| {
        there.epoch == row.epoch && there.session == Some(who.session) && there.ended_ms.is_none()
    };
    match store::device(&ctx.db.conn, stream, device).await? {
        Some(there) if there.account != account || there.imported => return Err(taken()),
        Some(there) if usual(&there) => return Ok(known),
        _ => {}
    }
    write(ctx, &who.actor(), async |w| {
        let row = store::stream_locked(w.tx(), stream).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
        if let Some(there) = store::device(w.tx(), stream, device).await? {
            if there.account != account {
                return Err(taken());
            }
            if let Some(ended_ms) = there.ended_ms {
                if began_ms(w.tx(), who.session).await?.is_none_or(|began| began <= ended_ms) {
                    return Err(Problem::new(&DEVICE_ENDED));
                }
                w.audit("streams", format!("account {account} goes on with a device that it had ended"));
            }
        }
        // an access token lives a little longer than the session that was ended
        still_alive(w.tx(), who.session, w.now).await?;
        let who = (account, who.session);
        store::register(w.tx(), (stream, device), who, name, row.epoch, w.now).await?;
        Ok(Registered { epoch: row.epoch, head: row.head })
    })
    .await
}
