//! What came in speaks against a sign-off: the decision that says so, once, and the work that tells everybody.

use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::QuarantineRecalled;
use tarn_domain::state::recalls;

use crate::platform::Result;
use crate::platform::jobs::Job;
use crate::streams::{Follow, Following, following_id};

/// The job of whoever knows where the fish went since: `{room, sign_off}`.
pub const RECALLED: &str = "parcels.recalled";

/// The sign-offs that are recalled by what was just accepted, or by something before it.
pub async fn recalled(f: &Following<'_>) -> Result<Vec<Follow>> {
    if !f.is_last {
        return Ok(Vec::new());
    }
    let one = |(sign_off, entries)| {
        let id = following_id(sign_off, "quarantine.recalled");
        let body = Body::QuarantineRecalled(QuarantineRecalled { sign_off, entries });
        let job = Job::new(RECALLED, json!({ "room": f.stream, "sign_off": sign_off }));
        Follow { id, at: f.now, body, job: Some(job) }
    };
    let all = recalls(f.memory, f.now).into_iter().map(one);
    Ok(all.filter(|follow| f.memory.entry(follow.id).is_none()).collect())
}
