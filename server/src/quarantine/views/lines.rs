//! One unit in a list: its name, how it stands, its days, what else is in the way, one link.

use tarn_domain::quarantine::{BlockerKind, Cause, RoomFacts, Unit, UnitState};
use tarn_domain::state::{Blocker, Quarantine, RoomStates};
use tarn_domain::streams::{At, ClubId, StockId, StreamId, SystemId, TankId};

use super::groups::groups;
use crate::platform::day::{DAY, Wall};
use crate::platform::gauge::Gauge;
use crate::platform::html::Link;
use crate::platform::parts::{State, UnitLine};
use crate::platform::words::{RunKind, Words};
use crate::quarantine::actions::clubs_of;
use crate::rooms::views::{Beside, Names, UnitOfRoom, natural};

/// Who reads the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Desk {
    /// A keeper of the room.
    Keeper,
    /// A steward of its club.
    Steward,
}

/// Every unit of a room, as its keeper sees it.
pub fn for_room(
    states: &RoomStates<'_>,
    quarantine: &Quarantine,
    room: StreamId,
    wall: Wall,
) -> Vec<UnitOfRoom> {
    for_desk(states, quarantine, room, wall, Desk::Keeper)
}

/// Every unit of a room; fish in the bag first, then the first due.
pub fn for_desk(
    states: &RoomStates<'_>,
    quarantine: &Quarantine,
    room: StreamId,
    wall: Wall,
    desk: Desk,
) -> Vec<UnitOfRoom> {
    let now = At::from_seconds(wall.now_s());
    let empty = RoomFacts::default();
    let clubs = clubs_of(states.facts.unwrap_or(&empty), quarantine, now);
    let one = |((unit, clubs), blockers): ((&Unit, Vec<ClubId>), &Vec<Blocker>)| UnitOfRoom {
        line: unit_line(states, unit, &clubs, blockers, (room, wall, desk)),
        stocks: unit.members.iter().map(|m| m.stock).collect(),
        word: unit.state.word(),
        due: unit.due.map(At::seconds),
        open: groups(blockers).len(),
        in_short: in_short(states, unit, groups(blockers).len(), wall),
    };
    quarantine.units().iter().zip(clubs).zip(&quarantine.blockers).map(one).collect()
}

fn unit_line(
    states: &RoomStates<'_>,
    unit: &Unit,
    clubs: &[ClubId],
    blockers: &[Blocker],
    (room, wall, desk): (StreamId, Wall, Desk),
) -> UnitLine {
    let page = format!("/units/{room}/{}", unit.id);
    let is_done = unit.is_done(At::from_seconds(wall.now_s()));
    let (href, words) = match (unit.state, desk) {
        (UnitState::InTheBag, Desk::Keeper) => (page, "Open the bag"),
        (UnitState::InTheBag, Desk::Steward) => (page, "What it holds"),
        (_, Desk::Steward) if is_done && blockers.is_empty() => {
            (format!("/sign-off/{room}/{}", unit.id), "Read and sign")
        }
        (_, Desk::Steward) if is_done => (format!("/sign-off/{room}/{}", unit.id), "Read, let pass, sign"),
        (UnitState::Due, Desk::Keeper) if blockers.is_empty() => (format!("{page}#way"), "Ask a steward"),
        _ => (page, "Why not ready"),
    };
    UnitLine {
        name: name(states, &stocks(unit), At::from_seconds(wall.now_s())),
        place: None,
        state: State::of(unit.state.word()),
        sentence: format!("{}. {}", capital(&many(unit)), sentence(unit, blockers.len(), wall)),
        gauge: gauge(unit, wall),
        in_the_way: in_the_way(unit, clubs, blockers, wall),
        link: Some(Link { href, words: words.into() }),
    }
}

/// Whole days done, of so many; counted from the day on which they are over, which both ways of counting share.
pub fn days(unit: &Unit, wall: Wall) -> (u32, u32) {
    let total = u32::from(unit.days.0);
    let left = unit.due.map_or(0, |due| (due.seconds() - wall.now_s() + DAY - 1).div_euclid(DAY));
    let left = u32::try_from(left.max(0)).unwrap_or(total).min(total);
    (total - left, total)
}

/// The staff of days; none in the bag, and while a treatment runs.
pub fn gauge(unit: &Unit, wall: Wall) -> Option<Gauge> {
    let (days_done, days_total) = days(unit, wall);
    unit.due.map(|_| Gauge { days_total, days_done, label: format!("{days_done} of {days_total} days done") })
}

/// "one stock", "9 stocks".
fn many(unit: &Unit) -> String {
    match unit.members.len() {
        1 => "one stock".into(),
        n => format!("{n}\u{a0}stocks"),
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect()
}

/// A unit in one line: "Q1 and Q2, Loop B: 9 stocks, ready on Thu 14 May, 18:40".
fn in_short(states: &RoomStates<'_>, unit: &Unit, open: usize, wall: Wall) -> String {
    let name = name(states, &stocks(unit), At::from_seconds(wall.now_s())).text();
    let more = match open {
        0 => String::new(),
        1 => ", and one more thing is in the way".to_owned(),
        n => format!(", and {n} more things are in the way"),
    };
    let many = many(unit);
    match (unit.state, unit.due) {
        (UnitState::InTheBag, _) => format!("{name}: {many}"),
        (_, None) => format!("{name}: {many}, being treated"),
        (UnitState::Recalled, _) => format!("{name}: {many}, its sign-off was recalled"),
        (_, Some(due)) if due.seconds() > wall.now_s() => {
            format!("{name}: {many}, ready on {}{more}", wall.moment(due.seconds()))
        }
        (_, Some(_)) if open > 0 => format!("{name}: {many}, the days are done{more}"),
        (_, Some(_)) => format!("{name}: {many}, waits for a steward\u{2019}s signature"),
    }
}

fn sentence(unit: &Unit, open: usize, wall: Wall) -> String {
    let (done, total) = days(unit, wall);
    let due = unit.due.map_or(0, At::seconds);
    match unit.state {
        UnitState::InTheBag => {
            let since = unit.members.iter().map(|m| m.since).min().map_or(0, At::seconds);
            format!("In the bag since {}. The days begin when the fish go into water.", wall.brief(since))
        }
        UnitState::Treating => {
            "A treatment runs, so the days don\u{2019}t; they begin again at its end.".to_owned()
        }
        UnitState::Recalled if unit.due.is_none() => {
            "Its sign-off counts as never given. A treatment runs, so the days don\u{2019}t.".to_owned()
        }
        UnitState::Recalled if due > wall.now_s() => format!(
            "Its sign-off counts as never given. {done} of {total} days done; not before {}.",
            wall.moment(due)
        ),
        UnitState::Recalled => "Its sign-off counts as never given. It waits for a new signature.".to_owned(),
        UnitState::Running => format!("{done} of {total} days done. Not before {}.", wall.moment(due)),
        UnitState::Due if open > 0 => {
            format!("{total} of {total} days done on {}, but not ready.", wall.day(due))
        }
        UnitState::Due => {
            format!(
                "{total} of {total} days done on {}. Waits for a steward\u{2019}s signature.",
                wall.day(due)
            )
        }
    }
}

fn in_the_way(unit: &Unit, clubs: &[ClubId], blockers: &[Blocker], wall: Wall) -> Option<String> {
    let mut all = Vec::new();
    let met = unit.members.iter().filter(|m| matches!(m.cause, Cause::Breach | Cause::Companion));
    let breached = met.map(|m| m.since).min();
    if let Some(since) = breached {
        all.push(format!("Home fish share this water since {}.", wall.lately(since.seconds())));
    }
    if let Some(gap) = unit.gaps.iter().max_by_key(|gap| gap.seconds()) {
        all.push(format!("No look for {} days.", gap.seconds() / DAY));
    }
    all.extend(in_few_words(blockers));
    if clubs.is_empty() {
        all.push("The room has no home club, so nobody can clear it.".into());
    }
    (!all.is_empty()).then(|| all.join(" "))
}

/// Entries that a steward has to read, by what they are.
fn in_few_words(blockers: &[Blocker]) -> Vec<String> {
    let of = |kind: BlockerKind| blockers.iter().filter(|blocker| blocker.kind() == kind).count();
    let all = [
        (of(BlockerKind::RecordedLate), "One entry came late.", "entries came late."),
        (of(BlockerKind::EvidenceWithdrawn), "One entry was taken back.", "entries were taken back."),
        (of(BlockerKind::FoundMore), "A count found more fish.", "counts found more fish."),
        (
            of(BlockerKind::ManyNamedLosses),
            "Many were lost under named causes.",
            "stocks lost many under named causes.",
        ),
    ];
    let told = all.into_iter().filter(|(n, ..)| *n > 0);
    told.map(|(n, one, more)| if n == 1 { one.to_owned() } else { format!("{n} {more}") }).collect()
}

/// The tanks that stocks are in at an instant, in the order of their names.
pub fn tanks(states: &RoomStates<'_>, stocks: &[StockId], at: At) -> Vec<TankId> {
    let stays = stocks.iter().filter_map(|id| states.stocks.get(id)).flat_map(|stock| &stock.stays);
    let there = stays.filter(|stay| stay.from <= at && stay.until.is_none_or(|until| at < until));
    let mut here: Vec<TankId> = there.filter_map(|stay| stay.tank).collect();
    let name = |id: &TankId| states.tanks.get(id).and_then(|tank| tank.name.clone()).unwrap_or_default();
    here.sort_by_cached_key(|id| (natural(&name(id)), *id));
    here.dedup();
    here
}

/// The system that these tanks are on; none if they stand alone.
pub fn system(states: &RoomStates<'_>, tanks: &[TankId]) -> Option<SystemId> {
    tanks.iter().find_map(|id| states.tanks.get(id)?.system())
}

/// The stocks of a unit.
pub fn stocks(unit: &Unit) -> Vec<StockId> {
    unit.members.iter().map(|m| m.stock).collect()
}

/// What stocks in one water are called together: their tanks and the water they share.
pub fn name(states: &RoomStates<'_>, stocks: &[StockId], at: At) -> Words {
    // Broods are not named here.
    let names = Names { states, beside: Beside::default() };
    let tanks = tanks(states, stocks, at);
    let named: Vec<String> = tanks.iter().map(|tank| names.tank(*tank)).collect();
    let listed = match (&named[..], stocks) {
        ([], []) => "Nothing".into(),
        ([], [stock, ..]) => return names.stock(*stock).and(RunKind::Plain, ", in the bag"),
        ([one], _) => one.clone(),
        ([some @ .., last], _) if named.len() <= 4 => format!("{} and {last}", some.join(", ")),
        // So many tanks are called by their water.
        ([first, ..], _) => match system(states, &tanks) {
            Some(system) => return format!("{}, {} tanks", names.system(system), named.len()).into(),
            None => format!("{first} and {} more", named.len() - 1),
        },
    };
    Words::plain(match (system(states, &tanks), tanks.len()) {
        (Some(system), _) => format!("{listed}, {}", names.system(system)),
        (None, 1) => format!("{listed}, stands alone"),
        (None, _) => listed,
    })
}
