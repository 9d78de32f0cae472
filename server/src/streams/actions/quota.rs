//! How many new ops an account may push in a day. Counted in the transaction of the push, one row an account, so that it
//! holds over restarts and several processes; what comes back by its receipt is not new. Ops that pages write are not
//! counted: each is a request of its own, and counting would lock the account in acts that lock several streams.

use serde_json::json;
use tarn_domain::state::Memory;
use tarn_domain::streams::{AccountId, At};

use super::intake::{Ready, Told};
use crate::platform::errors::Problem;
use crate::platform::{Result, write::Write};
use crate::streams::refusals::QUOTA;
use crate::streams::store;

const DAY_MS: i64 = 86_400_000;

/// Asks for as many as may be new, before anything of them is taken in: a "no" afterwards would cost the room's memory.
/// Says for how many it asked.
///
/// # Errors
/// `quota`, with how many more would be taken today and when the next day begins.
pub(super) async fn ask(w: &Write, account: AccountId, read: &[Told], memory: &Memory) -> Result<i64> {
    let may_be_new = |ready: &&Ready| ready.back.is_none() && memory.entry(ready.op.id).is_none();
    let wanted = read.iter().flatten().filter(may_be_new).count();
    if wanted == 0 {
        return Ok(0);
    }
    let (wanted, most) = (i64::try_from(wanted).unwrap_or(i64::MAX), w.ctx().config.limits.ops_per_day);
    let day = w.now.div_euclid(DAY_MS);
    let counted = store::count(w.tx(), account, day, wanted).await?;
    if counted <= most {
        return Ok(wanted);
    }
    let left = most.saturating_sub(counted.saturating_sub(wanted.unsigned_abs()));
    let again_ms = (day + 1) * DAY_MS;
    let again_at = At::from_seconds(again_ms / 1000);
    Err(Problem::new(&QUOTA)
        .detail(format!("{most} new entries are the most in a day; {left} more are taken before {again_at}."))
        .with("left", left)
        .with("again_at", json!(again_at))
        .retry_after((again_ms - w.now).max(1000).unsigned_abs().div_ceil(1000)))
}

/// Gives back what was asked for and not taken in: the same again, refused or waiting.
pub(super) async fn settle(w: &Write, account: AccountId, unused: i64) -> Result<()> {
    if unused != 0 {
        let day = w.now.div_euclid(DAY_MS);
        store::count(w.tx(), account, day, -unused).await?;
    }
    Ok(())
}
