//! How a process learns that a stream grew elsewhere: other processes tell, and since notices may be lost it looks now
//! and then. Runs beside the server until it ends.

use std::collections::HashMap;
use std::time::Duration;

use futures_util::future::join3;
use tarn_domain::streams::{Chain, EpochId, StreamId};
use tokio::sync::watch;
use uuid::Uuid;

use super::heads::Heads;
use crate::platform::dialect::{self, Listener};
use crate::platform::{Ctx, Result};
use crate::streams::store;

/// After a connection could not be made.
const PAUSE: Duration = Duration::from_secs(2);

/// Where a stream stands.
type Place = (EpochId, u64, Chain);

/// Hears, tells and looks until `stop` says so.
pub async fn run(ctx: Ctx, mut stop: watch::Receiver<bool>) {
    let process = ctx.ids.random_id();
    tokio::select! {
        _ = join3(hear(&ctx, process), tell(&ctx, process), sweep(&ctx)) => {}
        _ = stop.changed() => {}
    }
}

/// Wakes the readers of streams that grew in other processes.
async fn hear(ctx: &Ctx, process: Uuid) {
    if ctx.db.is_sqlite() {
        return;
    }
    let (heads, own) = (ctx.part::<Heads>(), process.to_string());
    loop {
        match Listener::open(&ctx.db.conn, &ctx.config.database_url).await {
            Ok(None) => return,
            Err(err) => tracing::warn!(%err, "other processes can't be heard"),
            Ok(Some(mut listener)) => {
                // whatever was said before nobody heard
                heads.wake_all();
                loop {
                    match listener.next().await {
                        Ok(Some(word)) => match word.split_once(' ') {
                            Some((from, _)) if from == own => {}
                            Some((_, stream)) => {
                                Uuid::parse_str(stream).into_iter().for_each(|id| heads.wake(StreamId(id)));
                            }
                            None => {}
                        },
                        Ok(None) => heads.wake_all(),
                        Err(err) => {
                            tracing::warn!(%err, "other processes can't be heard any more");
                            break;
                        }
                    }
                }
            }
        }
        tokio::time::sleep(PAUSE).await;
    }
}

/// Tells other processes what grew here: after the commit and not in it. PostgreSQL lets only one transaction with a
/// notice commit at a time, over all streams; a push would wait for the disk behind every other, while a notice that is
/// lost when the process dies in between costs one sweep.
async fn tell(ctx: &Ctx, process: Uuid) {
    let heads = ctx.part::<Heads>();
    loop {
        heads.here.notified().await;
        let grown = heads.take_grown();
        if ctx.db.is_sqlite() {
            continue;
        }
        let words = grown.into_iter().map(|stream| format!("{process} {stream}")).collect();
        if let Err(err) = dialect::tell(&ctx.db.conn, words).await {
            tracing::warn!(%err, "other processes were not told; they look by themselves");
        }
    }
}

/// Looks where the streams stand that somebody reads. One that is new to the sweep is news: its reader may have missed
/// a notice already.
async fn sweep(ctx: &Ctx) {
    let heads = ctx.part::<Heads>();
    let mut known = HashMap::new();
    loop {
        tokio::time::sleep(Duration::from_secs(ctx.config.limits.live_sweep_s)).await;
        match places(ctx, &heads.read()).await {
            Ok(now) => {
                let moved =
                    |stream: &StreamId| now.get(stream).is_none_or(|at| known.get(stream) != Some(at));
                heads.read().into_iter().filter(moved).for_each(|stream| heads.wake(stream));
                known = now;
            }
            Err(problem) => tracing::warn!(%problem, "streams could not be looked at"),
        }
    }
}

async fn places(ctx: &Ctx, streams: &[StreamId]) -> Result<HashMap<StreamId, Place>> {
    let rows = store::streams_of(&ctx.db.conn, streams).await?;
    Ok(rows.into_iter().map(|row| (row.id, (row.epoch, row.head, row.chain))).collect())
}
