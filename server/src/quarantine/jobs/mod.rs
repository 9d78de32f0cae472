//! Queued work: a club's new rule goes into the stream of every room that has the club as its home; people are told in
//! time.

mod tell;

use serde_json::Value;
use tarn_domain::streams::{AccountId, ClubId, parse_uuid};

use super::actions::adopt_rules;
use crate::platform::{Result, write::Write};
use crate::rooms;

pub use tell::{ROUND, ROUND_MS, TELL, round, tell};

/// The job that clubs queue when a rule was adopted: `{club, by}`.
pub const RULE_ADOPTED: &str = "quarantine.rule_adopted";

/// Writes the rule into every room of the club. Rooms are locked in ascending order.
pub async fn rule_adopted(w: &mut Write, payload: Value) -> Result<()> {
    let id = |name: &str| payload.get(name).and_then(Value::as_str).and_then(parse_uuid);
    let Some(club) = id("club").map(ClubId) else { return Ok(()) };
    let by = AccountId(id("by").unwrap_or_default());
    for room in rooms::store::rooms_of_club(w.tx(), club).await? {
        adopt_rules(w, tarn_domain::streams::StreamId(room.stream), club, by).await?;
    }
    Ok(())
}
