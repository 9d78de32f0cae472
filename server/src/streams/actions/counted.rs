//! What appends did, as figures: how many ops were taken and refused, how long it took and waited, what waits, what is kept in
//! memory. Counts and measures only.

use std::time::Duration;

use futures_util::future::LocalBoxFuture;

use super::append::{Appended, Outcome};
use super::path::Path;
use crate::platform::metrics::{Metrics, Reading, Stopwatch};
use crate::platform::{Ctx, Problem, Result, Write};
use crate::streams::store;
use crate::streams::store::cache::Cache;

fn way(path: Path) -> &'static str {
    match path {
        Path::Push(_) => "push",
        Path::Adopted(_) => "adopted",
        Path::Brought(_) => "brought",
        Path::Page(_) => "page",
        Path::Link(_) => "link",
        Path::Probe(_) => "probe",
        Path::Decision(_) => "server",
    }
}

/// An append, once it is committed; and how long others' writes kept it waiting.
pub(super) fn append(w: &mut Write, path: Path, begun: Stopwatch, waited: Duration, appended: &Appended) {
    if appended.outcomes.is_empty() && appended.accepted.is_empty() {
        return;
    }
    let accepted = appended.accepted.len() as u64;
    let codes = appended.outcomes.iter().filter_map(|outcome| match outcome {
        Outcome::Refused(_, problem, _) => Some(problem.kind().code),
        Outcome::Accepted(..) => None,
    });
    let codes: Vec<&'static str> = codes.collect();
    let metrics = w.ctx().part::<Metrics>();
    w.then(move |_| {
        metrics.ops_accepted(way(path), accepted);
        codes.into_iter().for_each(|code| metrics.op_refused(way(path), code));
        metrics.appended(begun.took());
        metrics.append_waited(way(path), waited);
    });
}

/// A "no" to an op that is a "no" to the whole act.
pub(super) fn refused(w: &Write, path: Path, problem: &Problem) {
    w.ctx().part::<Metrics>().op_refused(way(path), problem.kind().code);
}

/// How many streams wait to be folded anew.
pub fn to_rebuild(ctx: &Ctx) -> LocalBoxFuture<'_, Result<u64>> {
    Box::pin(store::count_older(&ctx.db.conn, ctx.config.fold_version))
}

/// The figures of this area.
pub fn readings(ctx: &Ctx) -> LocalBoxFuture<'_, Result<Vec<Reading>>> {
    Box::pin(async move {
        let (rooms, bytes) = ctx.part::<Cache>().size();
        Ok(vec![
            Reading::count("tarn_state_cache_rooms", "Streams whose state is kept in memory.", rooms),
            Reading::count("tarn_state_cache_bytes", "What these take, as it is reckoned.", bytes),
            Reading::count(
                "tarn_streams_to_rebuild",
                "Streams of an older fold, which are folded anew before they are written.",
                to_rebuild(ctx).await?,
            ),
        ])
    })
}
