//! Hands what changed to every area's projector.

use tarn_domain::state::Memory;
use tarn_domain::streams::StreamId;

use super::areas::{Areas, Changed, Projecting};
use crate::platform::{Result, write::Write};
use crate::streams::store::cache::Held;

/// Keeps the rows of what changed.
pub(super) async fn project(
    w: &Write,
    areas: &Areas,
    (stream, memory): (StreamId, &Memory),
    changed: &[Changed],
    anew: bool,
) -> Result<()> {
    for projector in &areas.projectors {
        projector(&Projecting { stream, tx: w.tx(), memory, changed, anew }).await?;
    }
    Ok(())
}

/// Makes all projections of a stream anew, after an upgrade of the fold.
pub(super) async fn project_all(w: &Write, areas: &Areas, stream: StreamId, held: &Held) -> Result<()> {
    let all: Vec<Changed> = held
        .memory
        .states()
        .keys()
        .filter_map(|e| Some(Changed { entity: *e, before: None, after: held.memory.state(*e)?.clone() }))
        .collect();
    project(w, areas, (stream, &held.memory), &all, true).await
}
