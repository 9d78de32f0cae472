//! The page of all waters of a room.

use tarn_domain::state::Memory;
use tarn_domain::streams::OpId;

use super::how::Water;
use super::{WaterPart, WatersPage};
use crate::platform::html::Page;
use crate::platform::words::{RunKind, Words};
use crate::rooms::actions::read::{Look, Traces};
use crate::rooms::actions::water::{OF_ALL, Which, logs, readings};
use crate::rooms::views::{Beside, Names, natural};

/// Of more waters than these, no trend is drawn beside each.
const FEW: usize = 6;

/// Logs of every water.
pub fn gather(memory: &Memory, traces: &mut Traces) -> Vec<(Which, Vec<OpId>)> {
    let states = tarn_domain::state::view(memory.states());
    let all = Which::all(&states).into_iter();
    all.map(|which| (which, logs(memory, &states, which, OF_ALL, traces))).collect()
}

/// Puts the page together.
pub fn page(
    page: Page,
    look: &Look,
    gathered: &[(Which, Vec<OpId>)],
    traces: &Traces,
    beside: Beside,
) -> WatersPage {
    let states = look.states();
    let names = Names { states: &states, beside };
    let of = |(which, logs): &(Which, Vec<OpId>)| {
        Water::of(*which, readings(&states, *which, traces, logs), names, look.wall)
    };
    let mut waters: Vec<Water<'_>> = gathered.iter().filter_map(of).collect();
    waters.sort_by_cached_key(|w| (matches!(w.which, Which::Tank(_)), natural(&w.name()), w.which.id()));
    let few = waters.len() <= FEW;
    let parts = waters.iter().map(|water| {
        let newest = water.newest_facts();
        let mut facts = water.volume_facts();
        facts.truncate(1);
        facts.extend(newest);
        WaterPart {
            name: water.name(),
            href: format!("/rooms/{}/water/{}", look.id, water.which.id()),
            facts,
            trend: if few { water.trends().into_iter().next() } else { None },
        }
    });
    WatersPage {
        lead: lead(&waters),
        waters: parts.collect(),
        printed: format!("Water of {}, as recorded {}.", look.room.name, look.wall.moment(look.wall.now_s())),
        page,
    }
}

/// What may harm first.
fn lead(waters: &[Water<'_>]) -> Words {
    let harm: Vec<String> = waters.iter().filter(|w| w.may_harm()).map(Water::name).collect();
    let read = waters.iter().filter(|w| !w.readings.is_empty()).count();
    let words = match harm.is_empty() {
        true => Words::default(),
        false => Words::default()
            .and(RunKind::Strong, "Un-ionised ammonia may harm fish")
            .and(RunKind::Plain, format!(" in {}. ", harm.join(", "))),
    };
    words.and(
        RunKind::Plain,
        match (waters.len(), read) {
            (0, _) => "No water is written down in this room yet.".into(),
            (_, 0) => "No water has been read yet.".into(),
            (1, _) => "One water, and its newest readings.".into(),
            (all, read) if all == read => format!("{all}\u{a0}waters, with their newest readings."),
            (all, read) => format!("{all}\u{a0}waters, {read} of them read so far."),
        },
    )
}
