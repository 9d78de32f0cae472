//! Queued work: whoever a parcel is for is told that it is on its way, and if the sign-off under which it left is
//! recalled.

mod board;
mod recalled;

use serde_json::Value;
use tarn_domain::streams::AccountId;

use super::actions::{tell_officers, told, wall_of};
use super::store;
use crate::platform::messages::{self, Line};
use crate::platform::{Result, Write};
use crate::rooms;

pub use board::{BOARD_ROUND, BOARD_ROUND_MS, board};
pub use recalled::recalled;

pub use super::actions::{freshen, matched};

/// An arrival may be a parcel that another room sent.
pub const MATCH: &str = "parcels.match";
/// Copies that travelled may be out of date.
pub const FRESHEN: &str = "parcels.freshen";
/// The round that tells.
pub const ROUND: &str = "parcels.round";
/// How often it comes.
pub const ROUND_MS: i64 = 60_000;
/// What left longer ago is no news.
const NEWS_S: i64 = 30 * 86_400;

/// Tells of every parcel that is on its way; of each once.
pub async fn round(w: &mut Write, _: Value) -> Result<()> {
    for open in store::open(w.tx(), None).await? {
        let rooms = rooms::store::rooms_of(w.tx(), AccountId(open.to.0)).await?;
        let Some(way) = told(&open, wall_of(&rooms, w.now)) else { continue };
        if way.handed_s < w.now.div_euclid(1000) - NEWS_S {
            continue;
        }
        let fact = format!("parcels:on-the-way:{}", open.parcel);
        let href = Some("/rooms".into());
        messages::tell(w, Line { account: open.to.0, fact: &fact, text: &way.words, href }).await?;
    }
    let ctx = w.ctx().clone();
    tell_officers(&ctx, w).await
}
