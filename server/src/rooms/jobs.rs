//! Queued work: the hours that probes have ended are written into their rooms.

use serde_json::{Value, json};
use tarn_domain::streams::LinkId;

use super::actions::probes;
use crate::platform::{Job, Problem, Result, Write};

/// The round that finds ended hours.
pub const PROBES: &str = "rooms.probes";
/// How often it comes.
pub const PROBES_MS: i64 = 5 * 60_000;
/// The job that writes those of one probe: `{probe}`.
pub const PROBE_HOURS: &str = "rooms.probe-hours";

/// Queues the probes that have said something in hours that have ended.
pub async fn round(w: &mut Write, _: Value) -> Result<()> {
    for probe in probes::ended(w).await? {
        w.enqueue(Job::new(PROBE_HOURS, json!({"probe": probe})));
    }
    Ok(())
}

/// Writes those of one of them.
pub async fn probe_hours(w: &mut Write, payload: Value) -> Result<()> {
    let probe = payload.get("probe").cloned().unwrap_or_default();
    let probe = serde_json::from_value(probe).map_err(|why| Problem::failed("reading a job", why))?;
    probes::write_ended(w, LinkId(probe)).await
}
