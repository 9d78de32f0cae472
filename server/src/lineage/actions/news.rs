//! Who has to be told of an op that was just accepted.

use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::lineage::Telling;
use tarn_domain::streams::NodeId;

use crate::lineage::{jobs, store};
use crate::platform::Result;
use crate::platform::jobs::Job;
use crate::streams::Following;

/// The work that follows: to tell all who hold a brood, or a room that tells another under an id that is taken. Also of
/// what comes back after a restore: a telling that nobody had pulled is lost with it, and who was told already is not
/// told again.
pub async fn news(f: &Following<'_>) -> Result<Vec<Job>> {
    let changed = |brood: NodeId, what: Telling, why: Option<&String>| {
        let payload = json!({"home": f.stream, "brood": brood, "op": f.op.id, "what": what, "why": why});
        vec![Job::new(jobs::TELL, payload)]
    };
    Ok(match &f.op.body {
        Body::BroodCorrected(b) => changed(b.brood, Telling::Corrected, b.why.as_ref()),
        Body::BroodRenamed(b) => changed(b.brood, Telling::Renamed, Some(&b.why)),
        Body::Withdrawn(b) => match f.memory.entry(b.entry).and_then(|entry| entry.body.as_deref()) {
            Some(Body::BroodCorrected(old)) => changed(old.brood, Telling::Corrected, b.why.as_ref()),
            Some(Body::BroodRenamed(old)) => changed(old.brood, Telling::Renamed, b.why.as_ref()),
            _ => Vec::new(),
        },
        Body::YoungFound(b) => taken(f, b.brood).await?,
        Body::EggsCollected(b) if b.new.is_some() => taken(f, b.brood).await?,
        _ => Vec::new(),
    })
}

/// Another room tells this brood: its word counts, and this room is told so.
async fn taken(f: &Following<'_>, brood: NodeId) -> Result<Vec<Job>> {
    let others = store::tellers(f.tx, brood).await?;
    let Some(home) = others.into_iter().find(|room| *room != f.stream) else { return Ok(Vec::new()) };
    let payload =
        json!({"home": home, "brood": brood, "op": f.op.id, "what": Telling::Disputed, "only": f.stream});
    Ok(vec![Job::new(jobs::TELL, payload)])
}
