//! The head of a water system: volume, tanks, the newest reading or how long there is none; and the one thing that
//! was done last.

use std::borrow::Cow;

use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::WaterRead;
use tarn_domain::state::{Entry, Memory, RoomStates};
use tarn_domain::streams::{OpId, SystemId};

use super::entry::{Teller, readings};
use super::names::litres;
use crate::rooms::actions::read::{Trace, Traces};

/// Among how many logs of a water the newest reading is looked for, and of each of its tanks.
const LOOKED_THROUGH: (usize, usize) = (100, 5);
/// Older than so many days, a reading is no longer how the water is.
const OLD_DAYS: i64 = 7;

/// The newest live entries, the newest first.
pub fn newest<'a>(entries: impl Iterator<Item = &'a Entry>, n: usize) -> Vec<&'a Entry> {
    let mut all: Vec<&Entry> = entries.filter(|entry| entry.linked.live).collect();
    all.sort_unstable_by_key(|entry| std::cmp::Reverse(entry.linked.order));
    all.truncate(n);
    all
}

/// Logs among which the newest readings of a water are, the newest first.
pub fn candidates(
    memory: &Memory,
    states: &RoomStates<'_>,
    system: SystemId,
    traces: &mut Traces,
) -> Vec<OpId> {
    let mut all = newest(memory.logging(system.into()), LOOKED_THROUGH.0);
    for (id, _) in states.tanks.iter().filter(|(_, tank)| tank.system() == Some(system)) {
        all.extend(newest(memory.logging((*id).into()), LOOKED_THROUGH.1));
    }
    all.sort_unstable_by_key(|entry| std::cmp::Reverse(entry.linked.order));
    all.into_iter().map(|entry| traces.take(memory, entry)).collect()
}

fn read(trace: &Trace) -> Option<(&Trace, Cow<'_, WaterRead>)> {
    Some((trace, trace.body.as_deref()?.water()?))
}

/// "640 l net, 9 tanks. Wed 6 May: 24.6 °C, pH 7.1".
pub fn facts(teller: &Teller<'_>, traces: &Traces, id: SystemId, candidates: &[OpId]) -> String {
    let tanks = teller.names.states.tanks.values().filter(|tank| tank.system() == Some(id)).count();
    let tanks = match tanks {
        0 => None,
        1 => Some("one tank".to_owned()),
        n => Some(format!("{n}\u{a0}tanks")),
    };
    let parts: Vec<String> = volume(teller, id).into_iter().chain(tanks).collect();
    let water = reading(teller, traces, candidates);
    let first = if parts.is_empty() { String::new() } else { format!("{}. ", parts.join(", ")) };
    format!("{first}{water}")
}

fn volume(teller: &Teller<'_>, id: SystemId) -> Option<String> {
    let system = teller.names.states.systems.get(&id)?;
    let tanks: Vec<_> = teller.names.states.tanks.values().filter(|tank| tank.system() == Some(id)).collect();
    let in_tanks: Option<u32> =
        tanks.iter().map(|tank| tank.volume_ml.map(|v| v.0)).try_fold(0_u32, |sum, v| sum.checked_add(v?));
    let sum = in_tanks.filter(|sum| *sum > 0).map(tarn_domain::rooms::Millilitres);
    match (system.net_ml, system.gross_ml, sum) {
        (Some(net), _, _) => Some(format!("{} net", litres(net))),
        (None, Some(gross), _) => Some(format!("{} gross", litres(gross))),
        (None, None, Some(sum)) => Some(format!("{} in its tanks", litres(sum))),
        (None, None, None) => None,
    }
}

/// The readings of the newest day.
struct Newest {
    /// That day, in seconds.
    at: i64,
    /// How many days ago that is.
    days: i64,
    /// The values.
    values: String,
}

/// The readings as a sentence.
pub fn in_a_sentence(teller: &Teller<'_>, traces: &Traces, candidates: &[OpId]) -> String {
    match newest_reading(teller, traces, candidates) {
        Some(Newest { at, values, .. }) => {
            format!("The water was read {}: {values}.", teller.wall.lately(at))
        }
        None => "No reading of the water is recorded.".into(),
    }
}

fn newest_reading(teller: &Teller<'_>, traces: &Traces, candidates: &[OpId]) -> Option<Newest> {
    let all: Vec<_> = candidates.iter().filter_map(|op| read(traces.get(*op)?)).collect();
    let (newest, _) = all.first()?;
    let wall = teller.wall;
    let (at, days) = (newest.at.seconds(), wall.days_since(newest.at.seconds()));
    let mut values = Vec::new();
    for (_, read) in all.iter().filter(|(t, _)| wall.days_since(t.at.seconds()) == days) {
        for value in &read.values {
            if !values.iter().any(|seen: &&tarn_domain::rooms::ops::Reading| seen.what == value.what) {
                values.push(value);
            }
        }
    }
    values.sort_by_key(|value| value.what);
    Some(Newest { at, days, values: readings(values) })
}

/// The readings of the newest day, or how long there is none.
fn reading(teller: &Teller<'_>, traces: &Traces, candidates: &[OpId]) -> String {
    match newest_reading(teller, traces, candidates) {
        None if candidates.len() < LOOKED_THROUGH.0 => "No reading yet.".into(),
        None => "No reading lately.".into(),
        Some(Newest { days, values, .. }) if days > OLD_DAYS => {
            format!("No reading for {days}\u{a0}days; the last was {values}.")
        }
        Some(Newest { at, values, .. }) => {
            format!("{}: {values}", super::last::first_upper(&teller.wall.lately(at)))
        }
    }
}

/// What was last: "looked at today".
pub fn lately(body: &Body, when: &str) -> String {
    let what = match body {
        Body::LookDone(_) => "looked at",
        Body::FoodGiven(_) => "fed",
        Body::WaterRead(_) | Body::WaterLogged(_) => "water read",
        Body::SignSeen(_) => "sign seen",
        Body::NoteWritten(_) => "note",
        Body::JobDone(b) => return format!("{} {when}", b.job.trim()),
        Body::StockCounted(_) => "counted",
        Body::StockLost(_) => "loss",
        Body::StockMoved(_) => "moved here",
        Body::StockEstablished(_) => "recorded",
        Body::StockCameIn(_) | Body::ParcelArrived(_) => "came",
        Body::YoungFound(_) => "found",
        Body::EggsCollected(_) => "collected",
        Body::EggsHatched(_) => "hatched",
        Body::StockSplit(_) => "split off",
        Body::StockMerged(_) => "put together",
        Body::StockSexed(_) => "sexed",
        Body::StockLeft(_) | Body::ParcelSent(_) => "some left",
        Body::ParcelPacked(_) => "packed",
        _ => "described",
    };
    format!("{what} {when}")
}
