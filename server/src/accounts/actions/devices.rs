//! The devices of somebody: listed, and ended one by one.

use std::collections::HashMap;

use tarn_domain::streams::{AccountId, DeviceId, StreamId};

use super::super::store;
use crate::entities::devices;
use crate::platform::auth::SignedIn;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result, write};
use crate::streams::actions::list;
use crate::streams::store as stream_store;

/// A device of the caller, and what it writes into.
pub struct OwnDevice {
    /// Its row.
    pub row: devices::Model,
    /// What the stream is called.
    pub stream: String,
    /// Whether it came in the session that asks.
    pub here: bool,
}

/// The caller's devices, the oldest first, of streams that they may read.
pub async fn devices(ctx: &Ctx, who: &SignedIn) -> Result<Vec<OwnDevice>> {
    let account = AccountId(who.account);
    let names: HashMap<StreamId, String> =
        list(ctx, account).await?.into_iter().map(|listed| (listed.stream, listed.name)).collect();
    let all = stream_store::clients_of(&ctx.db.conn, account).await?.into_iter();
    let own = |row: devices::Model| {
        let stream = names.get(&StreamId(row.stream))?.clone();
        Some(OwnDevice { here: row.session == Some(who.session), row, stream })
    };
    Ok(all.filter_map(own).collect())
}

/// Ends one of the caller's devices, and the session that it last came in: it writes no more and is signed out. What it
/// wrote stays. Ending it twice is ending it.
///
/// # Errors
/// `not-found` for another's.
pub async fn end_device(ctx: &Ctx, who: &SignedIn, stream: StreamId, device: DeviceId) -> Result<()> {
    write(ctx, &who.actor(), async |w| {
        stream_store::stream_locked(w.tx(), stream).await?;
        let own = stream_store::device(w.tx(), stream, device).await?;
        let own = own.filter(|device| device.account.0 == who.account);
        let own = own.ok_or_else(|| Problem::new(&NOT_FOUND).detail("You have no such device."))?;
        if own.ended_ms.is_some() {
            return Ok(());
        }
        stream_store::end_device(w.tx(), stream, device, w.now).await?;
        if let Some(session) = own.session {
            store::end_session(w.tx(), session, w.now).await?;
        }
        w.audit("accounts", format!("account {} ended a device of stream {stream}", who.account));
        Ok(())
    })
    .await
}
