//! A unit's days as they went, as a picture: its calendar, runs, treatments, looks; treatments in words too. What a run is
//! and says stands in `runs`. Decides nothing.

use std::collections::BTreeSet;

use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::{SharedWater, UnitState};
use tarn_domain::rooms::{Stay, TreatmentState};
use tarn_domain::streams::{At, Standing, SystemId, TankId, TreatmentId};

use super::lines::days;
use super::runs::{Ran, row, runs};
use super::timeline::{Course, ROWS, Row};
use crate::platform::day::DAY;
use crate::platform::drawing::Picture;
use crate::quarantine::actions::UnitLook;
use crate::rooms::views::Teller;

/// A treatment of the unit's water.
pub struct Treated<'a> {
    /// Which.
    pub id: TreatmentId,
    /// What the records say of it.
    pub state: &'a TreatmentState,
    /// From when.
    pub from: At,
    /// Until when; none: it runs.
    pub until: Option<At>,
}

/// The treatments of the waters that a unit's stocks were in, the first first.
pub fn treatments<'a>(of: &UnitLook, teller: &Teller<'a>) -> Vec<Treated<'a>> {
    let states = teller.names.states;
    let members = of.unit.members.iter();
    let stays: Vec<&Stay> = members
        .filter_map(|member| Some((member, *states.stocks.get(&member.stock)?)))
        .flat_map(|(member, stock)| {
            stock.stays.iter().filter(|stay| stay.until.is_none_or(|until| until > member.since))
        })
        .collect();
    let tanks: BTreeSet<TankId> =
        stays.iter().filter_map(|stay| stay.tank).chain(of.unit.tanks.iter().copied()).collect();
    let then = stays.iter().filter_map(|stay| states.tanks.get(&stay.tank?)?.system_at(stay.from));
    let now = of.unit.tanks.iter().filter_map(|tank| states.tanks.get(tank)?.system());
    let systems: BTreeSet<SystemId> = then.chain(now).collect();
    let mut all: Vec<Treated<'a>> = states
        .treatments
        .iter()
        .filter(|(_, t)| {
            t.system.is_some_and(|id| systems.contains(&id)) || t.tank.is_some_and(|id| tanks.contains(&id))
        })
        .filter_map(|(id, t)| {
            Some(Treated { id: *id, state: t, from: t.from?, until: t.until.map(|(at, _)| at) })
        })
        .filter(|t| {
            t.from <= of.look.now()
                && t.until.is_none_or(|until| until >= crate::quarantine::actions::opened(&of.unit))
        })
        .collect();
    all.sort_by_key(|t| t.from);
    all
}

/// What a treatment is called.
pub fn called(treatment: &TreatmentState) -> String {
    let what = treatment.what.as_deref().map(str::trim).filter(|what| !what.is_empty());
    what.map_or_else(|| treatment.with.map_or("not said", |with| with.plain()).to_owned(), str::to_owned)
}

/// The picture; none in the bag.
pub fn picture(of: &UnitLook, teller: &Teller<'_>) -> Option<Picture> {
    of.unit.start?;
    let (wall, now) = (of.look.wall, of.look.now());
    let treated = treatments(of, teller);
    let all = runs(&of.unit);
    let rows: Vec<Row> = all.iter().map(|ran| row(of, teller, ran, &treated)).collect();
    let mut course = Course {
        label: label(of, all.len()),
        folded: folded(of, &all),
        runs: rows,
        treated: treated
            .iter()
            .map(|t| (t.from.seconds(), t.until.unwrap_or(now).min(now).seconds()))
            .collect(),
        looks: looks(of),
        gaps: gaps(of),
        now: now.seconds(),
        calendar: Vec::new(),
    };
    let (from, until) = course.span();
    let edge = (until - from) / 4 + DAY;
    course.calendar = wall.midnights(from - edge, until + edge);
    Some(course.picture())
}

fn label(of: &UnitLook, times: usize) -> String {
    let (done, total) = days(&of.unit, of.look.wall);
    let began = match (times, of.unit.shared_water) {
        (1, _) => "The days began once".to_owned(),
        (n, SharedWater::Restart) => format!("The days began {n} times"),
        (n, SharedWater::WaitForLast) => format!("The days began {n} times, and all wait for the last"),
    };
    let how = match of.unit.state {
        UnitState::Treating => "a treatment runs".to_owned(),
        _ => format!("{done} of {total} are done"),
    };
    format!("{began}; {how}. Looks and gaps between them. The same stands below in words.")
}

fn folded(of: &UnitLook, all: &[Ran]) -> Option<String> {
    let more = all.len().checked_sub(ROWS).filter(|more| *more > 0)?;
    let since = of.look.wall.day(all[0].run.start.seconds());
    Some(match more {
        1 => format!("One earlier run, from {since}, is in the list below."),
        n => format!("{n} earlier runs, from {since}, are in the list below."),
    })
}

fn looks(of: &UnitLook) -> Vec<i64> {
    let traces = of.entries.iter().filter_map(|op| of.traces.get(*op));
    let looks = traces
        .filter(|t| t.standing == Standing::Live && matches!(t.body.as_deref(), Some(Body::LookDone(_))));
    looks.map(|t| t.at.seconds()).filter(|at| *at <= of.look.wall.now_s()).collect()
}

fn gaps(of: &UnitLook) -> Vec<(i64, i64, String)> {
    let spans: BTreeSet<(i64, i64)> =
        of.unit.gaps.iter().map(|gap| (gap.from.seconds(), gap.until.seconds())).collect();
    spans
        .into_iter()
        .map(|(from, until)| (from, until, format!("no look for {} days", (until - from) / DAY)))
        .collect()
}

/// The water that is treated, by name.
pub fn water_of(teller: &Teller<'_>, treatment: &TreatmentState) -> String {
    match (treatment.system, treatment.tank) {
        (Some(system), _) => teller.names.system(system),
        (None, Some(tank)) => teller.names.tank(tank),
        (None, None) => "The water".into(),
    }
}

/// What was treated, in words.
pub fn treated_in_words(of: &UnitLook, teller: &Teller<'_>) -> Vec<String> {
    let wall = of.look.wall;
    let one = |t: Treated<'_>| {
        let where_ = water_of(teller, t.state);
        let by = t.state.by.as_ref().map_or_else(String::new, |by| format!(", by {}", by.trim()));
        let from = wall.moment(t.from.seconds());
        let when = match t.until {
            Some(until) => format!("was treated from {from} to {}", wall.moment(until.seconds())),
            None => match t.state.to_end {
                Some(end) => {
                    format!("has been treated since {from}, to end on {}", wall.moment(end.seconds()))
                }
                None => format!("has been treated since {from}"),
            },
        };
        format!("{where_} {when}: {}{by}.", called(t.state))
    };
    treatments(of, teller).into_iter().map(one).collect()
}
