//! Registers a device for a stream and its present epoch. Doing it again changes nothing.

use tarn_domain::streams::{AccountId, DeviceId, EpochId, StreamId};

use super::list::may;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result, actor::Actor, write::write};
use crate::streams::actions::areas::Right;
use crate::streams::refusals::DEVICE_NOT_YOURS;
use crate::streams::store;

/// A registered device, and where the stream stands.
#[derive(Debug, Clone, Copy)]
pub struct Registered {
    /// The stream's epoch.
    pub epoch: EpochId,
    /// Its head.
    pub head: u64,
}

/// Registers a device of the account.
///
/// # Errors
/// `not-found` for a stream the account may not write; `device-not-yours` for an id that is taken.
pub async fn register(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    stream: StreamId,
    device: DeviceId,
    name: &str,
) -> Result<Registered> {
    may(ctx, account, stream, Right::Write).await?;
    let row = store::stream(&ctx.db.conn, stream).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let known = Registered { epoch: row.epoch, head: row.head };
    let taken = || Problem::new(&DEVICE_NOT_YOURS);
    // Derived ids (version 5) are those of decisions and of pages: nobody registers one.
    if device.0.get_version_num() == 5 {
        return Err(taken());
    }
    // A sync begins here, so the usual case must not open a write.
    match store::device(&ctx.db.conn, stream, device).await? {
        Some((owner, epoch)) if owner == account && epoch == row.epoch => return Ok(known),
        Some((owner, _)) if owner != account => return Err(taken()),
        _ => {}
    }
    write(ctx, actor, async |w| {
        let row = store::stream_locked(w.tx(), stream).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
        if store::device(w.tx(), stream, device).await?.is_some_and(|(owner, _)| owner != account) {
            return Err(taken());
        }
        store::register(w.tx(), stream, device, account, name, row.epoch, w.now).await?;
        Ok(Registered { epoch: row.epoch, head: row.head })
    })
    .await
}
