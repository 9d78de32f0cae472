//! What time does to notices and swaps: they end, run out, are done. Pages and answers tell it by the clock; this
//! writes it down and tells both sides.

use serde_json::Value;
use tarn_domain::parcels::SwapState;
use tarn_domain::streams::AccountId;

use crate::entities::{notices, swaps};
use crate::parcels::actions::notices::{DAY_MS, ENDED, title_of};
use crate::parcels::actions::swaps::{is_done, name_of, state_at, tell};
use crate::parcels::store::{notices as notice_store, swaps as swap_store};
use crate::platform::messages::{self, Line};
use crate::platform::{Result, Write};

/// The round over notices and swaps.
pub const BOARD_ROUND: &str = "parcels.board";
/// How often it comes.
pub const BOARD_ROUND_MS: i64 = 60_000;
/// So long before its end the author is told.
const AHEAD_MS: i64 = 3 * DAY_MS;

/// The round.
pub async fn board(w: &mut Write, _: Value) -> Result<()> {
    for row in notice_store::ending(w.tx(), w.now + AHEAD_MS).await? {
        notice(w, row).await?;
    }
    for row in swap_store::run_out(w.tx(), w.now).await? {
        over(w, row, SwapState::Expired).await?;
    }
    for row in swap_store::agreed(w.tx()).await? {
        if is_done(w.tx(), &row).await? {
            over(w, row, SwapState::Done).await?;
        }
    }
    Ok(())
}

async fn notice(w: &Write, row: notices::Model) -> Result<()> {
    let href = Some(format!("/notices/{}", row.id));
    if row.ends_ms > w.now {
        // What stands for only a few days was never far from its end.
        if row.ends_ms - row.made_ms > AHEAD_MS {
            let fact = format!("parcels:notice-ending:{}:{}", row.id, row.ends_ms);
            let text = format!(
                "Your notice ({}) ends within three days. Then you can put it up again.",
                title_of(&row)
            );
            messages::tell(w, Line { account: row.author, fact: &fact, text: &text, href }).await?;
        }
        return Ok(());
    }
    let Some(mut row) = notice_store::lock(w.tx(), row.id).await? else { return Ok(()) };
    if row.state != notice_store::OPEN || row.ends_ms > w.now {
        return Ok(());
    }
    let fact = format!("parcels:notice-ended:{}:{}", row.id, row.ends_ms);
    let text = format!("Your notice ({}) has ended. You can put it up again.", title_of(&row));
    messages::tell(w, Line { account: row.author, fact: &fact, text: &text, href }).await?;
    ENDED.clone_into(&mut row.state);
    row.version += 1;
    row.changed_ms = w.now;
    notice_store::save(w.tx(), row).await
}

async fn over(w: &Write, row: swaps::Model, state: SwapState) -> Result<()> {
    let Some(mut row) = swap_store::lock(w.tx(), row.id).await? else { return Ok(()) };
    let is_due = match state {
        SwapState::Expired => state_at(&row, w.now) == SwapState::Expired && row.state != state.as_str(),
        _ => row.state == SwapState::Agreed.as_str(),
    };
    if !is_due {
        return Ok(());
    }
    state.as_str().clone_into(&mut row.state);
    row.changed_ms = w.now;
    let (proposer, other) = (AccountId(row.proposer), AccountId(row.other));
    for (to, with) in [(proposer, other), (other, proposer)] {
        let with = name_of(w, with).await?;
        let words = match state {
            SwapState::Done => format!("Your swap with {with} is done: all of it has arrived."),
            _ => format!("A proposed swap between you and {with} is over: nobody answered it in time."),
        };
        tell(w, row.id, to, state.as_str(), &words).await?;
    }
    swap_store::save(w.tx(), row).await
}
