//! Entries that came late, or were taken back.

use tarn_domain::catalogue::Body;
use tarn_domain::state::Blocker as Fact;
use tarn_domain::streams::OpId;

use super::Scene;
use crate::platform::day::DAY;
use crate::platform::parts::Blocker;
use crate::platform::words::{RunKind, Words};
use crate::quarantine::views::groups::Group;

/// What an entry is, with its article.
fn what(body: Option<&Body>) -> &'static str {
    match body {
        Some(Body::StockLost(_)) => "A loss",
        Some(Body::StockLeft(_)) => "Fish that left",
        Some(Body::StockCounted(_)) => "A count",
        Some(Body::StockMoved(_)) => "A move",
        Some(Body::StockSplit(_)) => "A split",
        Some(Body::StockMerged(_)) => "A merge",
        Some(Body::StockCameIn(_) | Body::ParcelArrived(_)) => "An arrival",
        Some(Body::StockEstablished(_)) => "A stock",
        Some(Body::YoungFound(_)) => "A spawn",
        Some(Body::EggsCollected(_)) => "Collected eggs",
        Some(Body::EggsHatched(_)) => "A hatch",
        Some(Body::PairSetUp(_) | Body::SpawnSeen(_) | Body::DropSeen(_)) => "A step of a spawning",
        Some(Body::SignSeen(_)) => "A sign",
        Some(Body::LookDone(_)) => "A look",
        Some(Body::FoodGiven(_)) => "A feeding",
        Some(Body::JobDone(_)) => "A job",
        Some(Body::IncidentSeen(_)) => "An incident",
        Some(Body::TreatmentBegan(_) | Body::TreatmentEnded(_)) => "A treatment",
        Some(Body::TankPlumbed(_) | Body::TankHung(_) | Body::SystemJoined(_)) => "A change of the plumbing",
        Some(Body::TankEmptied(_)) => "An emptied tank",
        Some(Body::QuarantineRestarted(_)) => "A new beginning",
        _ => "An entry",
    }
}

fn so_late(seconds: i64) -> String {
    match seconds / DAY {
        0 => "hours late".into(),
        1 => "one day late".into(),
        n => format!("{n}\u{a0}days late"),
    }
}

pub(super) fn late(scene: &Scene<'_>, group: &Group, new: &mut dyn FnMut() -> OpId) -> Blocker {
    let wall = scene.of.look.wall;
    let hours = scene.of.unit.rule.late_after_hours;
    let limit = format!("After {hours}\u{a0}hours a steward has to read it.");
    let ops = || group.all.iter().filter_map(|blocker| blocker.entry());
    let traces = || ops().filter_map(|op| scene.of.traces.get(op));
    let received = traces().map(|trace| trace.received.0.div_euclid(1000)).max().unwrap_or(wall.now_s());
    let worst = traces().map(|trace| received - trace.at.seconds()).max().unwrap_or(0);
    let reached = wall.moment(received);
    let ways = vec![scene.waived(group, new)];
    if let [only] = &group.all[..] {
        let op = only.entry().unwrap_or(OpId(uuid::Uuid::nil()));
        let trace = scene.of.traces.get(op);
        let title =
            format!("{} was recorded {}", what(trace.and_then(|t| t.body.as_deref())), so_late(worst));
        let said = scene.entry(op).map_or_else(Words::default, |said| said.and(RunKind::Plain, "; "));
        let by = trace.map_or_else(String::new, |trace| format!(", by {}", scene.writers.of(trace)));
        let happened =
            said.and(RunKind::Plain, format!("it reached the server on {reached}{by}. {limit}")).capital();
        return Blocker::new(title, happened, ways);
    }
    let n = group.all.len();
    let happened = format!(
        "They came together on {reached}, the oldest {}. After {hours}\u{a0}hours a steward has to read them.",
        so_late(worst)
    );
    let list = ops()
        .filter_map(|op| {
            let trace = scene.of.traces.get(op)?;
            scene.told(op, &format!("; {}", so_late(received - trace.at.seconds())))
        })
        .collect();
    Blocker { list, ..Blocker::new(format!("{n} entries were recorded late"), happened, ways) }
}

pub(super) fn withdrawn(
    scene: &Scene<'_>,
    group: &Group,
    (op, by): (OpId, OpId),
    new: &mut dyn FnMut() -> OpId,
) -> Blocker {
    let wall = scene.of.look.wall;
    let body = scene.of.traces.get(op).and_then(|trace| trace.body.clone());
    let back = scene.of.traces.get(by).map_or_else(String::new, |trace| {
        let when = wall.moment(trace.received.0.div_euclid(1000));
        format!(" on {when} by {}", scene.writers.of(trace))
    });
    let why = |by: OpId| match scene.of.traces.get(by).and_then(|trace| trace.body.as_deref()) {
        Some(Body::Withdrawn(b)) => {
            b.why.as_deref().map_or_else(String::new, |why| format!(": \u{201c}{}\u{201d}", why.trim()))
        }
        _ => String::new(),
    };
    let ways = vec![scene.waived(group, new)];
    if group.all.len() > 1 {
        let n = group.all.len();
        let happened = format!(
            "They were taken back together{back}. They no longer count, but a steward has to read them before the unit \
             is cleared."
        );
        let told = |blocker: &Fact| match blocker {
            Fact::Withdrawn { op, by, .. } => scene.told(*op, &why(*by)),
            _ => None,
        };
        let list = group.all.iter().filter_map(told).collect();
        return Blocker { list, ..Blocker::new(format!("{n} entries were taken back"), happened, ways) };
    }
    let said = scene.entry(op).map_or_else(|| "An entry".into(), |said| said.and(RunKind::Plain, ","));
    let happened = said.and(
        RunKind::Plain,
        format!(
            " was taken back{back}{}. It no longer counts, but a steward has to read it before the unit is cleared.",
            why(by)
        ),
    );
    Blocker::new(format!("{} was taken back", what(body.as_deref())), happened, ways)
}
