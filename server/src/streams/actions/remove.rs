//! Taking a stream out for good: its ops, its devices, and every row that areas keep of it.
//!
//! Who may want that is not asked here. What other streams hold of it (copies of ancestry, parcels that arrived) stays
//! theirs.

use tarn_domain::streams::{AccountId, StreamId};

use super::areas::Areas;
use super::live::Heads;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Result, write::Write};
use crate::streams::store;
use crate::streams::store::cache::{Cache, Room};

/// Removes it. Those who kept it, and everybody who had a device for it, are told `stream-gone` from now on.
///
/// # Errors
/// `not-found`, and what an area has against it.
pub async fn remove(w: &mut Write, stream: StreamId, keepers: &[AccountId]) -> Result<()> {
    let ctx = w.ctx().clone();
    let areas = ctx.part::<Areas>();
    let mut held = ctx.part::<Cache>().hold(stream).await;
    store::stream_locked(w.tx(), stream).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    for remover in &areas.removers {
        remover(w.tx(), stream).await?;
    }
    let devices = store::devices_of(w.tx(), stream).await?;
    let writers = devices.into_values().map(|device| device.account).chain(keepers.iter().copied()).collect();
    store::remove(w.tx(), stream, writers, w.now).await?;
    *held = Room::empty(Some(stream));
    w.hold(held);
    w.then(move |ctx| ctx.part::<Heads>().grew(stream));
    w.audit("streams", format!("stream {stream} removed"));
    Ok(())
}
