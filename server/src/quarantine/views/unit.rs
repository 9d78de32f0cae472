//! The page of a unit: how it stands, why it began again, what else is in the way and what clears it, what it holds,
//! what was recorded, by which rule.

use tarn_domain::quarantine::{Cause, Member, RoomFacts, SharedWater, UnitState};
use tarn_domain::rooms::Came;
use tarn_domain::state::RoomStates;
use tarn_domain::streams::At;

use super::blockers::blockers;
use super::lines::{days, gauge, name, stocks, system, tanks};
use super::{MemberRow, UnitPage};
use crate::platform::day::DAY;
use crate::platform::html::{Link, Page};
use crate::platform::parts::{Fact, State};
use crate::platform::words::{RunKind, Words};
use crate::quarantine::actions::record::Record;
use crate::quarantine::actions::{Looked, UnitLook};
use crate::rooms::actions::read::Writers;
use crate::rooms::views::{Beside, Names, Teller, entry_rows, how_many, natural, newest_reading};

/// The clubs of a unit, and who may sign there.
pub struct People {
    /// Names of the clubs whose rule holds.
    pub clubs: Vec<String>,
    /// Names of their health stewards.
    pub stewards: Vec<String>,
}

/// Puts the page together.
pub fn page(
    page: impl FnOnce(String) -> Page,
    of: &UnitLook,
    people: &People,
    writers: &Writers,
    beside: Beside,
) -> UnitPage {
    let states = of.look.states();
    let teller =
        Teller { names: Names { states: &states, beside }, wall: of.look.wall, about: None, by_tank: false };
    let name = name(&states, &stocks(&of.unit), of.look.now());
    let sign = format!("/sign-off/{}/{}", of.look.id, of.unit.id);
    let is_steward = of.looked == Looked::Steward;
    UnitPage {
        state: State::of(of.unit.state.word()),
        lead: lead(of, people),
        sign_off: (is_steward && of.unit.state == UnitState::Due)
            .then(|| Link { href: sign, words: "Read and sign".into() }),
        gauge: gauge(&of.unit, of.look.wall),
        days: facts(of, &teller),
        blockers: blockers(of, people, &teller),
        members: members(of, &teller, came_from),
        shares: shares(of, &states, &teller),
        record: record(of, &of.record(), &teller),
        entries: entry_rows(&of.entries, &of.traces, &teller, writers, None),
        rule: rule(of, &states, people),
        printed: format!(
            "{name}, {}, as recorded {}. Not a health certificate.",
            of.look.room.name,
            of.look.wall.moment(of.look.wall.now_s())
        ),
        page: page(name),
    }
}

fn lead(of: &UnitLook, people: &People) -> Words {
    let (wall, unit) = (of.look.wall, &of.unit);
    let (done, total) = days(unit, wall);
    let due = unit.due.map_or(0, At::seconds);
    match unit.state {
        UnitState::InTheBag => Words::plain(
            "Not ready. The fish are still in the bag; the days begin when they go into water of their own.",
        ),
        UnitState::Treating => Words::plain(
            "Not ready. A treatment runs, so the days don\u{2019}t; they begin again when it ends.",
        ),
        UnitState::Recalled if due <= wall.now_s() => Words::plain(
            "Its sign-off was recalled and counts as never given. Nothing of it may leave until a steward has signed again.",
        ),
        UnitState::Recalled => Words::plain(format!(
            "Its sign-off was recalled and counts as never given. {done} of {total} days are done; not before "
        ))
        .and(RunKind::Strong, wall.moment(due))
        .and(RunKind::Plain, "."),
        UnitState::Running => {
            Words::plain(format!("Not ready. {done} of {total} days are done; not before "))
                .and(RunKind::Strong, wall.moment(due))
                .and(RunKind::Plain, ".")
        }
        UnitState::Due => {
            let who = if people.clubs.is_empty() {
                "Nobody can sign, since the room has no home club.".into()
            } else {
                format!("A health steward of {} has to sign.", people.clubs.join(" and of "))
            };
            Words::plain(format!("{total} days were done on {}. {who}", wall.moment(due)))
        }
    }
}

fn fact(name: &str, value: impl Into<Words>) -> Fact {
    Fact { name: name.into(), value: value.into() }
}

fn facts(of: &UnitLook, teller: &Teller<'_>) -> Vec<Fact> {
    let (wall, unit) = (of.look.wall, &of.unit);
    let first = unit.members.iter().map(|m| m.since).min().map_or(0, At::seconds);
    let Some(start) = unit.start else {
        return vec![
            fact("Came", wall.moment(first)),
            fact("Days", "They begin when the fish go into water."),
        ];
    };
    let mut facts = vec![fact("Into the water", wall.moment(first))];
    if start.seconds() != first {
        let last = unit.members.iter().find(|m| m.since == start && m.cause != Cause::Descent);
        let when = Words::plain(format!("{}. ", wall.moment(start.seconds())));
        facts.push(fact("Began again", last.map_or_else(|| when.clone(), |m| why(&when, teller, m))));
    }
    let (done, total) = days(unit, wall);
    facts.push(fact("Days done", format!("{done} of {total}")));
    let due = unit.due.map_or(0, At::seconds);
    let name = if unit.state == UnitState::Due { "Done on" } else { "Not before" };
    facts.push(fact(name, wall.moment(due)));
    facts
}

fn why(when: &Words, teller: &Teller<'_>, member: &Member) -> Words {
    let what = match member.cause {
        Cause::Breach => "Home fish began to share the water: ",
        Cause::Companion => "Test companions were put to it: ",
        Cause::Introduced | Cause::Descent => "More fish came into this water: ",
    };
    let mut words = when.clone().and(RunKind::Plain, what);
    words.runs.extend(teller.names.stock(member.stock).runs);
    words.and(RunKind::Plain, ".")
}

/// The members in the order of their tanks; `last` fills the last column.
pub fn members(
    of: &UnitLook,
    teller: &Teller<'_>,
    last: impl Fn(&UnitLook, &Teller<'_>, &Member) -> String,
) -> Vec<MemberRow> {
    let mut all: Vec<MemberRow> =
        of.unit.members.iter().map(|m| member(of, teller, m, last(of, teller, m))).collect();
    all.sort_by_cached_key(|row| (natural(&row.tank), row.name.text()));
    all
}

fn member(of: &UnitLook, teller: &Teller<'_>, m: &Member, last: String) -> MemberRow {
    let stock = teller.names.states.stocks.get(&m.stock);
    let tank = stock.and_then(|s| s.place()).flatten();
    MemberRow {
        tank: tank.map_or_else(|| "bag".into(), |tank| teller.names.tank(tank)),
        name: teller.names.stock(m.stock),
        href: (of.looked == Looked::Keeper).then(|| format!("/rooms/{}/stocks/{}", of.look.id, m.stock)),
        how_many: Words::plain(stock.map_or_else(String::new, |s| how_many(s))),
        last,
    }
}

/// How long a member is held.
pub fn held(of: &UnitLook, _: &Teller<'_>, m: &Member) -> String {
    let days = (of.look.wall.now_s() - m.since.seconds()).max(0) / DAY;
    format!("{days}, from {}", of.look.wall.moment(m.since.seconds()))
}

fn came_from(of: &UnitLook, teller: &Teller<'_>, m: &Member) -> String {
    let stock = teller.names.states.stocks.get(&m.stock);
    let day = of.look.wall.lately(m.since.seconds());
    if m.cause == Cause::Breach {
        return format!("home fish, in this water since {day}");
    }
    match stock.and_then(|s| s.came.as_ref()) {
        Some(Came::In { from }) => {
            let made = stock.and_then(|s| s.made).and_then(|op| of.traces.get(op)?.body.clone());
            let source = match made.as_deref() {
                Some(tarn_domain::catalogue::Body::StockCameIn(b)) => b.source.clone(),
                _ => None,
            };
            let source = source.map_or_else(String::new, |source| format!(" ({source})"));
            format!("{}{source}, {day}", from.plain())
        }
        Some(Came::Parcel { .. }) => format!("a parcel, {day}"),
        Some(Came::Split { .. }) => format!("split off, {day}"),
        Some(Came::Born { .. }) => format!("born here, {day}"),
        Some(Came::Established) | None => format!("here, {day}"),
    }
}

fn shares(of: &UnitLook, states: &RoomStates<'_>, teller: &Teller<'_>) -> String {
    let tanks = tanks(states, &stocks(&of.unit), of.look.now());
    let held = "Until a steward has cleared it nothing of it may be offered, listed or sent. Moving fish inside the \
        room is never refused.";
    if tanks.is_empty() {
        return held.into();
    }
    let water = match (system(states, &tanks), tanks.len()) {
        (Some(system), 1) => {
            format!(
                "It is on the water of {}; whatever shares that is held too. ",
                teller.names.system(system)
            )
        }
        (Some(system), _) => format!(
            "These tanks share the water of {}, so they are one unit and are cleared together. ",
            teller.names.system(system)
        ),
        (None, _) => "It shares its water with no other tank. ".into(),
    };
    format!("{water}{held} {}", newest_reading(teller, &of.traces, &of.water))
}

/// Looks, signs, losses.
pub fn record(of: &UnitLook, record: &Record, teller: &Teller<'_>) -> Words {
    if of.unit.start.is_none() {
        return Words::plain("The days have not begun.");
    }
    let gap = match record.longest_gap_s / DAY {
        0 => "under a day".to_owned(),
        1 => "one day".to_owned(),
        n => format!("{n}\u{a0}days"),
    };
    let looks = match record.looks {
        0 => format!("Looks in the days that count: none for {gap}. "),
        n => format!("Looks in the days that count: {n}, the longest gap {gap}. "),
    };
    let words = Words::plain(looks);
    let words = match record.signs.last() {
        None => words.and(RunKind::Plain, "Signs: none recorded. "),
        Some((at, sign)) => words
            .and(RunKind::Plain, "Signs: ")
            .and(RunKind::Strong, record.signs.len().to_string())
            .and(RunKind::Plain, format!(", last on {}: {sign}. ", teller.wall.day(at.seconds()))),
    };
    let losses = match (record.lost_named, record.lost_unexplained) {
        (0, 0) => "Losses: none.".to_owned(),
        (named, 0) => format!("Losses: {named}, with a named cause."),
        (0, open) => format!("Losses: {open}, to disease or not explained."),
        (named, open) => {
            format!("Losses: {}, {open} of them to disease or not explained.", named + open)
        }
    };
    words.and(RunKind::Plain, losses)
}

fn rule(of: &UnitLook, states: &RoomStates<'_>, people: &People) -> Vec<String> {
    let empty = RoomFacts::default();
    let facts = states.facts.unwrap_or(&empty);
    let opened = of.unit.members.iter().map(|m| m.since).min().unwrap_or(of.look.now());
    let mut all = Vec::new();
    for (club, name) in of.clubs.iter().zip(&people.clubs) {
        all.push(match facts.rule_at(*club, opened) {
            Some(rule) => format!(
                "The rule of {name}, version {}, in force since {}.",
                rule.version,
                of.look.wall.day(rule.from.seconds())
            ),
            None => format!("{name} had adopted no rule of its own then, so the shipped one holds."),
        });
    }
    if all.is_empty() {
        all.push("The shipped rule, as advice.".into());
    }
    let share = match of.unit.shared_water {
        SharedWater::Restart => {
            "Whatever comes into the same water later begins the days again for all of it."
        }
        SharedWater::WaitForLast => {
            "Whatever shares the water keeps its own days, and all wait until the last has done its own."
        }
    };
    all.push(format!("Held for {} whole days of 24 hours. {share}", of.unit.days.0));
    all
}
