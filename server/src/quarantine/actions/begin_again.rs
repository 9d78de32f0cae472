//! The keeper begins the days of a unit again, at the end of a gap between looks.

use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::QuarantineRestarted;
use tarn_domain::streams::{AccountId, At, OpId, StockId, StreamId};

use crate::platform::actor::Actor;
use crate::platform::{Ctx, Result};
use crate::rooms;

/// Writes the entry, as of now; the days begin at `from`.
///
/// # Errors
/// `not-found` for whoever does not keep the room; what the stream refuses.
pub async fn begin_again(
    ctx: &Ctx,
    actor: &Actor,
    (account, room): (AccountId, StreamId),
    id: OpId,
    (stock, from): (StockId, At),
) -> Result<u64> {
    let why = "No look was recorded for longer than the rule allows.".to_owned();
    let body = Body::QuarantineRestarted(QuarantineRestarted { stock, from, why });
    rooms::actions::enter(ctx, actor, account, room, id, None, body).await
}
