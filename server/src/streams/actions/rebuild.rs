//! Makes the rows of streams anew that an older fold has made: after an upgrade, stream by stream, beside everything else.
//! A stream that is written before its turn is made anew then. Changes rows only, never an op.

use std::time::Duration;

use tarn_domain::streams::StreamId;
use tokio::sync::watch;

use super::append::touch_up;
use super::areas::Areas;
use super::projections::project_all;
use crate::platform::{Ctx, Result, actor::Actor, write::write};
use crate::streams::store;
use crate::streams::store::cache::Held;

/// How often it is looked again: an older process may have begun streams since.
const AGAIN: Duration = Duration::from_secs(300);
/// What is left to everybody else after each stream.
const BREATH: Duration = Duration::from_millis(20);

/// Does so until the process ends.
pub async fn run(ctx: Ctx, mut stop: watch::Receiver<bool>) {
    let work = async {
        loop {
            round(&ctx).await;
            tokio::time::sleep(AGAIN).await;
        }
    };
    tokio::select! {
        () = work => {}
        _ = stop.changed() => {}
    }
}

/// Every stream once. One that can't be made anew keeps none of the others waiting; it is told, and tried again.
async fn round(ctx: &Ctx) {
    let (mut last, mut made) = (None, 0_u64);
    loop {
        let next = match store::next_older(&ctx.db.conn, ctx.config.fold_version, last).await {
            Ok(Some(next)) => next,
            Ok(None) => break,
            Err(problem) => {
                tracing::warn!(%problem, "streams of an older fold could not be looked for");
                break;
            }
        };
        last = Some(next);
        match write(ctx, &Actor::Server, async |w| touch_up(w, next).await.map(drop)).await {
            Ok(()) => made += 1,
            Err(problem) => tracing::warn!(stream = %next.0, %problem, "its rows could not be made anew"),
        }
        tokio::time::sleep(BREATH).await;
    }
    if made > 0 {
        tracing::info!(made, "streams of an older fold were made anew");
    }
}

/// All rows of a stream, whichever fold made them, for an operator who does not trust them.
pub(super) async fn all_anew(ctx: &Ctx, id: StreamId) -> Result<()> {
    let areas = ctx.part::<Areas>();
    write(ctx, &Actor::Operator, async |w| {
        touch_up(w, id).await?;
        let held = w.take_held(|held: &Held| held.id == Some(id));
        if let Some(held) = held {
            project_all(w, &areas, id, &held).await?;
            w.hold(held);
        }
        w.audit("streams", format!("projections of {id} made anew"));
        Ok(())
    })
    .await
}
