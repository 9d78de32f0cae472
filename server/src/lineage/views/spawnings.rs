//! The spawnings of a room that are under way, one line each: who, how far, since when.

use tarn_domain::lineage::{SpawningState, Stage};
use tarn_domain::rooms::Node;
use tarn_domain::state::RoomStates;

use super::node;
use crate::platform::day::Wall;
use crate::platform::words::{RunKind, Words};
use crate::rooms::views::{Beside, Names, SpawningRow};

/// Those under way, the latest step first.
pub fn under_way(states: &RoomStates<'_>, wall: Wall) -> Vec<SpawningRow> {
    let names = Names { states, beside: Beside { node, ..Beside::default() } };
    let mut all: Vec<&SpawningState> = states.spawnings.values().copied().collect();
    all.retain(|s| s.is_under_way());
    all.sort_by_key(|s| std::cmp::Reverse(s.steps.last().map(|step| (step.at, step.op))));
    all.into_iter().map(|s| row(s, names, wall)).collect()
}

fn row(spawning: &SpawningState, names: Names<'_>, wall: Wall) -> SpawningRow {
    let last = spawning.steps.last().map(|step| step.at.seconds());
    let numbers = match spawning.stage() {
        Some(Stage::Young) if spawning.young() > 0 => format!("{}\u{a0}young", spawning.young()),
        _ => spawning.eggs().map_or_else(String::new, |n| format!("{n}\u{a0}eggs")),
    };
    let stage = match spawning.stage() {
        Some(Stage::SetUp) => "set up, nothing seen yet",
        Some(stage) => stage.plain(),
        None => "eggs looked at",
    };
    SpawningRow {
        who: who(spawning, names),
        stage: stage.into(),
        numbers,
        last: last.map_or_else(String::new, |at| wall.lately(at)),
    }
}

/// The parents' stocks, and the broods that came of them.
fn who(spawning: &SpawningState, names: Names<'_>) -> Words {
    let stocks = spawning.spawners();
    let mut words = if stocks.is_empty() { Words::plain("parents not told") } else { names.crossed(stocks) };
    for brood in &spawning.broods {
        words = words.and(RunKind::Plain, ", ");
        words.runs.extend(names.node(Node::Of(*brood)).runs);
    }
    words
}
