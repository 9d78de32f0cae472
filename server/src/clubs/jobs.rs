//! Queued work: what accounts tell clubs.

use serde::Deserialize;
use serde_json::Value;
use uuid::Uuid;

use super::actions::told_of_age;
use crate::platform::{Problem, Result, Write};

#[derive(Deserialize)]
struct OfAge {
    account: Uuid,
    guardian: Uuid,
}

/// Somebody is of age, as their guardian says.
pub async fn of_age(w: &mut Write, payload: Value) -> Result<()> {
    let OfAge { account, guardian } =
        serde_json::from_value(payload).map_err(|why| Problem::failed("reading a job", why))?;
    told_of_age(w, account, guardian).await
}
