//! The one file that asks the machine for the time and for chance. Everything else gets them as arguments.

use std::time::{SystemTime, UNIX_EPOCH};

use uuid::Uuid;

/// The machine's wall clock, in milliseconds since 1970.
#[allow(clippy::disallowed_methods)]
pub fn wall_ms() -> i64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    since.map_or(0, |time| i64::try_from(time.as_millis()).unwrap_or(i64::MAX))
}

/// A new id (UUIDv7).
#[allow(clippy::disallowed_methods)]
pub fn new_id() -> Uuid {
    Uuid::now_v7()
}
