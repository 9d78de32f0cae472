//! Queued work: all who hold a brood are told what its home says.

use serde_json::Value;

use super::actions::{self, Word};
use crate::platform::{Result, Write, errors::Problem};

/// Finds out who has to be told.
pub const TELL: &str = "lineage.tell";
/// Tells one room.
pub const TELL_ONE: &str = "lineage.tell_one";

/// Queues a job for each room that holds the brood.
pub async fn tell(w: &mut Write, payload: Value) -> Result<()> {
    actions::tell(w, word(payload)?).await
}

/// Writes into one room.
pub async fn tell_one(w: &mut Write, payload: Value) -> Result<()> {
    actions::tell_one(w, word(payload)?).await
}

fn word(payload: Value) -> Result<Word> {
    serde_json::from_value(payload).map_err(|e| Problem::failed("reading a job", e))
}
