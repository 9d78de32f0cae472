//! What is refused of an op that tells parents.

use tarn_domain::catalogue::Body;
use tarn_domain::lineage::Parents;
use tarn_domain::streams::Patch;

use super::refusals;
use crate::platform::errors::Problem;
use crate::streams::Judging;

/// The kinds of ops that tell parents.
pub const TELL_PARENTS: [&str; 6] =
    ["pair.set_up", "spawn.seen", "drop.seen", "eggs.collected", "young.found", "brood.corrected"];

/// Parents that can't be understood.
pub fn parents(judging: &Judging<'_>) -> Result<(), Problem> {
    let set =
        |patch: &Patch<Parents>| if let Patch::Set(parents) = patch { Some(parents.clone()) } else { None };
    let sides = match &judging.op.body {
        Body::PairSetUp(b) | Body::SpawnSeen(b) | Body::DropSeen(b) => [b.sires.clone(), b.dams.clone()],
        Body::YoungFound(b) => [b.sires.clone(), b.dams.clone()],
        Body::EggsCollected(b) => match &b.new {
            Some(new) => [new.sires.clone(), new.dams.clone()],
            None => return Ok(()),
        },
        Body::BroodCorrected(b) => [set(&b.sires), set(&b.dams)],
        _ => return Ok(()),
    };
    for side in sides.iter().flatten() {
        side.check().map_err(refusals::parents)?;
    }
    Ok(())
}
