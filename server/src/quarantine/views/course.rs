//! A unit's days as they went: each time they began, why, and how far they came; for the picture and in words.

use std::collections::BTreeSet;

use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::{Run, SharedWater, UnitState};
use tarn_domain::rooms::{Stay, TreatmentState};
use tarn_domain::streams::{At, Standing, SystemId, TankId};

use super::RunRow;
use super::began::{Began, began};
use super::lines::days;
use super::timeline::{Course, ROWS, Row};
use crate::platform::day::DAY;
use crate::platform::drawing::Picture;
use crate::platform::html::Link;
use crate::quarantine::actions::UnitLook;
use crate::rooms::views::Teller;

/// The longest name of a treatment that the picture has room for.
const NAME_IN_PICTURE: usize = 26;

/// A treatment of the unit's water.
pub struct Treated<'a> {
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
        .values()
        .filter(|t| {
            t.system.is_some_and(|id| systems.contains(&id)) || t.tank.is_some_and(|id| tanks.contains(&id))
        })
        .filter_map(|t| Some(Treated { state: t, from: t.from?, until: t.until.map(|(at, _)| at) }))
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

/// Every time the days began, with its end.
fn runs(of: &UnitLook) -> Vec<(Run, Option<At>)> {
    let unit = &of.unit;
    let mut all = unit.runs.clone();
    // Where each keeps its own days, the last to begin is another's.
    if let Some(start) = unit.start
        && all.last().is_none_or(|run| run.start < start)
    {
        let last = unit.members.iter().flat_map(|m| &m.runs).find(|run| run.start == start);
        all.extend(last.copied());
    }
    let ends: Vec<Option<At>> =
        all.iter().skip(1).map(|run| Some(run.start)).chain(std::iter::once(None)).collect();
    all.into_iter().zip(ends).collect()
}

fn whole_days(from: At, until: At) -> i64 {
    (until.seconds() - from.seconds()).div_euclid(DAY)
}

/// "8 days", "One day", "Under a day".
fn so_long(days: i64) -> String {
    match days {
        0 => "Under a day".into(),
        1 => "One day".into(),
        n => format!("{n}\u{a0}days"),
    }
}

const ORDINALS: [&str; 10] =
    ["First", "Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh", "Eighth", "Ninth", "Tenth"];

fn ordinal(i: usize) -> String {
    ORDINALS.get(i).map_or_else(|| format!("Run {}", i + 1), |word| format!("{word} run"))
}

/// The picture; none in the bag.
pub fn picture(of: &UnitLook, teller: &Teller<'_>) -> Option<Picture> {
    of.unit.start?;
    let (wall, now) = (of.look.wall, of.look.now());
    let treated = treatments(of, teller);
    let all = runs(of);
    let rows: Vec<Row> = all.iter().enumerate().map(|(i, _)| row(of, teller, &all, i, &treated)).collect();
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
    let began = match times {
        1 => "The days began once".to_owned(),
        n => format!("The days began {n} times"),
    };
    let how = match of.unit.state {
        UnitState::Treating => "a treatment runs".to_owned(),
        _ => format!("{done} of {total} are done"),
    };
    format!("{began}; {how}. Looks and gaps between them. The same stands below in words.")
}

fn folded(of: &UnitLook, all: &[(Run, Option<At>)]) -> Option<String> {
    let more = all.len().checked_sub(ROWS).filter(|more| *more > 0)?;
    let since = of.look.wall.day(all[0].0.start.seconds());
    Some(match more {
        1 => format!("One earlier run, from {since}, is in the list below."),
        n => format!("{n} earlier runs, from {since}, are in the list below."),
    })
}

fn row(
    of: &UnitLook,
    teller: &Teller<'_>,
    all: &[(Run, Option<At>)],
    i: usize,
    treated: &[Treated<'_>],
) -> Row {
    let (run, end) = all[i];
    let (wall, now, unit) = (of.look.wall, of.look.now(), &of.unit);
    let until = end.unwrap_or(now);
    let mut title = ordinal(i);
    if i == 0 {
        title = format!("{title}: {}, {}", began(of, teller, run, true).short, wall.day(run.start.seconds()));
    }
    let within = treated.iter().find(|t| t.from < until && t.until.is_none_or(|ended| ended > run.start));
    if let Some(treatment) = within {
        let name = called(treatment.state);
        let short = Some(&name).filter(|name| name.chars().count() <= NAME_IN_PICTURE);
        let with = treatment.state.with.map_or("treated", |with| with.plain());
        title = format!("{title}; striped: {}", short.map_or(with, String::as_str));
    }
    let start = run.start.seconds();
    let Some((next, _)) = all.get(i + 1) else {
        let (done, total) = days(unit, wall);
        let plain = match unit.state {
            UnitState::Treating => "a treatment runs; the days begin again at its end".to_owned(),
            _ if done >= total => format!("all {total} days are done"),
            _ => format!("{done} days done, {} to go", total - done),
        };
        let due = unit.due.map(At::seconds);
        return Row {
            start,
            end: None,
            due,
            title,
            due_words: due.map(|due| wall.day(due)),
            strong: format!("Today, {}", wall.day(now.seconds())),
            plain,
        };
    };
    let when = wall.day(next.start.seconds());
    let waits = unit.shared_water == SharedWater::WaitForLast
        && matches!(next.why, tarn_domain::quarantine::Why::Arrived(_));
    let strong = if waits {
        format!("From {when} they wait, too:")
    } else {
        format!("{}. Began again {when}:", so_long(whole_days(run.start, next.start)))
    };
    Row {
        start,
        end: Some(until.seconds()),
        due: Some(run.start.plus(unit.days).seconds()),
        title,
        due_words: None,
        strong,
        plain: began(of, teller, *next, false).short,
    }
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

/// The same in words.
pub fn in_words(of: &UnitLook, teller: &Teller<'_>) -> Vec<RunRow> {
    let all = runs(of);
    let total = of.unit.days.0;
    let one = |(i, (run, end)): (usize, &(Run, Option<At>))| {
        let Began { words, entry, .. } = began(of, teller, *run, i == 0);
        let days = match (end, of.unit.state) {
            (Some(end), _) => {
                format!("{} of {total}, then began again", so_long(whole_days(run.start, *end)))
            }
            (None, UnitState::Treating) => "stopped while a treatment runs".into(),
            (None, _) => {
                let (done, total) = days(&of.unit, of.look.wall);
                format!("{done} of {total} days done")
            }
        };
        RunRow {
            when: of.look.wall.moment(run.start.seconds()),
            why: words,
            link: entry
                .filter(|op| of.entries.contains(op))
                .map(|op| Link { href: format!("#entry-{op}"), words: "The entry".into() }),
            days,
        }
    };
    all.iter().enumerate().map(one).collect()
}

/// What was treated, in words.
pub fn treated_in_words(of: &UnitLook, teller: &Teller<'_>) -> Vec<String> {
    let wall = of.look.wall;
    let one = |t: Treated<'_>| {
        let where_ = match (t.state.system, t.state.tank) {
            (Some(system), _) => teller.names.system(system),
            (None, Some(tank)) => teller.names.tank(tank),
            (None, None) => "the water".into(),
        };
        let by = t.state.by.as_ref().map_or_else(String::new, |by| format!(", by {}", by.trim()));
        let from = wall.moment(t.from.seconds());
        let when = match t.until {
            Some(until) => format!("from {from} to {}", wall.moment(until.seconds())),
            None => format!("since {from}, and it runs"),
        };
        format!("{where_} was treated {when}: {}{by}.", called(t.state))
    };
    treatments(of, teller).into_iter().map(one).collect()
}
