//! Lineage: broods as they can be asked for across rooms.
//!
//! Rule: a brood's facts belong to its home stream; the same id told by another stream is another row, never
//! merged. Table owned: `broods`.

pub mod actions;
mod projector;
pub mod views;

use futures_util::FutureExt;

use crate::streams::Areas;

/// What lineage registers with streams.
pub fn register(areas: &mut Areas) {
    areas.projectors.push(|p| projector::project(p).boxed_local());
    areas.checkers.push(|conn, stream, memory| projector::differences(conn, stream, memory).boxed_local());
}
