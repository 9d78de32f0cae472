//! What is to put right: the contradiction in plain words, the entry that shows it, and the way on.

use std::collections::BTreeSet;

use tarn_domain::rooms::FindingKind;
use tarn_domain::state::{Memory, Quarantine, RoomStates, across, view};
use tarn_domain::streams::{Entity, EntityKind, OpId, Standing, StockId, StreamId};

use super::entry::Teller;
use super::last::deed;
use crate::platform::html::Link;
use crate::platform::parts::Finding;
use crate::platform::words::{RunKind, Words};
use crate::rooms::actions::read::{Traces, Writers};

/// What one thing's records contradict themselves in.
pub type Found = (Entity, FindingKind, OpId);

/// Copies out the entries that findings speak of.
pub fn take(memory: &Memory, traces: &mut Traces, only: Option<Entity>) -> Vec<Found> {
    let mut all = Vec::new();
    let mut told = BTreeSet::new();
    for (thing, state) in memory.states() {
        if only.is_some_and(|only| only != thing) {
            continue;
        }
        for finding in state.findings() {
            // An entry that names two things is told with the first.
            if only.is_none() && !told.insert((finding.kind, finding.op)) {
                continue;
            }
            if let Some(entry) = memory.entry(finding.op) {
                traces.take(memory, entry);
            }
            all.push((thing, finding.kind, finding.op));
        }
    }
    // it is about broods, which have no page among a room's
    for (thing, finding) in if only.is_none() { across(memory) } else { Vec::new() } {
        if let Some(entry) = memory.entry(finding.op) {
            traces.take(memory, entry);
        }
        all.push((thing, finding.kind, finding.op));
    }
    all
}

/// Copies out the entries of emptied tanks and systems, some of which may change nothing.
pub fn take_emptied(memory: &Memory, traces: &mut Traces) {
    let states = view(memory.states());
    let tanks = states.tanks.values().flat_map(|tank| &tank.emptied);
    for emptied in tanks.chain(states.systems.values().flat_map(|system| &system.emptied)) {
        if let Some(entry) = memory.entry(emptied.op) {
            traces.take(memory, entry);
        }
    }
}

/// Entries of emptied tanks and systems that change nothing.
pub fn unemptied(states: &RoomStates<'_>, quarantine: &Quarantine) -> Vec<Found> {
    let tanks =
        states.tanks.iter().flat_map(|(id, tank)| tank.emptied.iter().map(|e| (Entity::from(*id), e.op)));
    let systems =
        states.systems.iter().flat_map(|(id, s)| s.emptied.iter().map(|e| (Entity::from(*id), e.op)));
    let none = |(_, op): &(Entity, OpId)| quarantine.reading.unemptied.contains(op);
    tanks.chain(systems).filter(none).map(|(thing, op)| (thing, FindingKind::NotEmptied, op)).collect()
}

/// Whether taking the entry back puts it right.
fn is_mended_by_taking_back(kind: FindingKind) -> bool {
    match kind {
        FindingKind::BelowZero
        | FindingKind::RowBelowZero
        | FindingKind::BeforeMade
        | FindingKind::Inert
        | FindingKind::MadeTwice
        | FindingKind::TwoPlaces
        | FindingKind::NotEmptied => true,
        FindingKind::MergeLeftSome
        | FindingKind::NumbersDiffer
        | FindingKind::Unmatched
        | FindingKind::ReceivedFromRecalled
        | FindingKind::ParentsOtherwise
        | FindingKind::OwnAncestor
        | FindingKind::Disputed => false,
    }
}

/// The findings as they stand on a page; `new` makes the id that a form carries.
pub fn tell(
    found: &[Found],
    teller: &Teller<'_>,
    traces: &Traces,
    writers: &Writers,
    room: StreamId,
    back: &str,
    mut new: impl FnMut() -> OpId,
) -> Vec<Finding> {
    let one = |&(thing, kind, op): &Found| {
        let (fact, way) = kind.plain();
        let title = name(teller, thing).and(RunKind::Plain, format!(": {}", first_lower(fact)));
        let trace = traces.get(op);
        // The title names the stock already.
        let about = (thing.kind == EntityKind::Stock).then_some(StockId(thing.id)).or(teller.about);
        let brief = Teller { about, ..*teller };
        let entry = trace.and_then(|t| Some((t, t.body.as_deref()?))).map(|(trace, body)| {
            let when = teller.wall.moment(trace.at.seconds());
            let written = format!(", {when}, written by {}. ", writers.of(trace));
            brief.tell(body).capital().quoted().and(RunKind::Plain, written)
        });
        let can = trace.is_some_and(|t| !t.fixed && t.standing != Standing::Withdrawn);
        let page = |id: StockId| Link {
            href: format!("/rooms/{room}/stocks/{id}#write"),
            words: "Write what happened".into(),
        };
        let its_own = teller.about.is_some_and(|about| Entity::from(about) == thing);
        Finding {
            title,
            sentence: entry.unwrap_or_default().and(RunKind::Plain, way),
            link: (thing.kind == EntityKind::Stock && !its_own).then(|| page(StockId(thing.id))),
            deed: (can && is_mended_by_taking_back(kind))
                .then(|| deed(room, op, new(), back, "Take this entry back")),
        }
    };
    found.iter().map(one).collect()
}

fn name(teller: &Teller<'_>, thing: Entity) -> Words {
    let names = teller.names;
    match thing.kind {
        EntityKind::Stock => {
            let id = StockId(thing.id);
            let here = names.states.stocks.get(&id).and_then(|s| s.place()).flatten();
            let place = here.map_or_else(String::new, |tank| format!("{}, ", names.tank(tank)));
            Words::plain(place).then(names.stock(id))
        }
        EntityKind::Tank => names.tank(tarn_domain::streams::TankId(thing.id)).into(),
        EntityKind::System => names.system(tarn_domain::streams::SystemId(thing.id)).into(),
        EntityKind::Brood => {
            let node = tarn_domain::rooms::Node::Of(tarn_domain::streams::NodeId(thing.id));
            names.node(node)
        }
        EntityKind::Parcel => "A parcel".into(),
        EntityKind::Room => "The room".into(),
        EntityKind::Treatment => "A treatment".into(),
        EntityKind::Spawning => "A spawning".into(),
    }
}

fn first_lower(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}
