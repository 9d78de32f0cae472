//! One unit in a list: its name, how it stands, its days, what else is in the way, one link.

use tarn_domain::quarantine::{Cause, RoomFacts, Unit, UnitState, units};
use tarn_domain::state::RoomStates;
use tarn_domain::streams::{At, ClubId, StockId, StreamId, SystemId, TankId};

use crate::platform::day::{DAY, Wall};
use crate::platform::gauge::Gauge;
use crate::platform::html::Link;
use crate::platform::parts::{State, UnitLine};
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
pub fn for_room(states: &RoomStates<'_>, room: StreamId, wall: Wall) -> Vec<UnitOfRoom> {
    for_desk(states, room, wall, Desk::Keeper)
}

/// Every unit of a room; fish in the bag first, then the first due.
pub fn for_desk(states: &RoomStates<'_>, room: StreamId, wall: Wall, desk: Desk) -> Vec<UnitOfRoom> {
    let now = At::from_seconds(wall.now_s());
    let empty = RoomFacts::default();
    let facts = states.facts.unwrap_or(&empty);
    let one = |unit: Unit| {
        let opened = unit.members.iter().map(|m| m.since).min().unwrap_or(now);
        let clubs = facts.clubs_between(opened, now);
        UnitOfRoom {
            line: unit_line(states, &unit, &clubs, room, wall, desk),
            stocks: unit.members.iter().map(|m| m.stock).collect(),
            word: unit.state.word(),
            due: unit.due.map(At::seconds),
        }
    };
    units(&states.for_quarantine(&empty), now).into_iter().map(one).collect()
}

fn unit_line(
    states: &RoomStates<'_>,
    unit: &Unit,
    clubs: &[ClubId],
    room: StreamId,
    wall: Wall,
    desk: Desk,
) -> UnitLine {
    let page = format!("/units/{room}/{}", unit.id);
    let (href, words) = match (unit.state, desk) {
        (UnitState::Due, Desk::Steward) => (format!("/sign-off/{room}/{}", unit.id), "Read and sign"),
        (UnitState::Due, Desk::Keeper) => (format!("{page}#way"), "Ask a steward"),
        (UnitState::Running, _) => (page, "Why not ready"),
        (UnitState::InTheBag, _) => (page, "What it holds"),
    };
    UnitLine {
        name: name(states, &stocks(unit), At::from_seconds(wall.now_s())),
        place: None,
        state: State::of(unit.state.word()),
        sentence: sentence(unit, wall),
        gauge: gauge(unit, wall),
        in_the_way: in_the_way(unit, clubs, wall),
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

/// The staff of days; none in the bag.
pub fn gauge(unit: &Unit, wall: Wall) -> Option<Gauge> {
    let (days_done, days_total) = days(unit, wall);
    unit.start.map(|_| Gauge {
        days_total,
        days_done,
        label: format!("{days_done} of {days_total} days done"),
    })
}

fn sentence(unit: &Unit, wall: Wall) -> String {
    let (done, total) = days(unit, wall);
    let due = unit.due.map_or(0, At::seconds);
    match unit.state {
        UnitState::InTheBag => {
            let since = unit.members.iter().map(|m| m.since).min().map_or(0, At::seconds);
            format!("since {}. The days begin when the fish go into water.", wall.brief(since))
        }
        UnitState::Running => format!("{done} of {total} days done. Not before {}.", wall.moment(due)),
        UnitState::Due => {
            format!(
                "{total} of {total} days done on {}. Waits for a steward\u{2019}s signature.",
                wall.day(due)
            )
        }
    }
}

fn in_the_way(unit: &Unit, clubs: &[ClubId], wall: Wall) -> Option<String> {
    let mut all = Vec::new();
    let breached = unit.members.iter().filter(|m| m.cause == Cause::Breach).map(|m| m.since).min();
    if let Some(since) = breached {
        all.push(format!("Home fish share this water since {}.", wall.lately(since.seconds())));
    }
    if clubs.is_empty() {
        all.push("The room has no home club, so nobody can clear it.".into());
    }
    (!all.is_empty()).then(|| all.join(" "))
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
pub fn name(states: &RoomStates<'_>, stocks: &[StockId], at: At) -> String {
    // Broods are not named here.
    let names = Names { states, beside: Beside::default() };
    let tanks = tanks(states, stocks, at);
    let named: Vec<String> = tanks.iter().map(|tank| names.tank(*tank)).collect();
    let listed = match (&named[..], stocks) {
        ([], []) => "Nothing".into(),
        ([], [stock, ..]) => return format!("{}, in the bag", names.stock(*stock).text()),
        ([one], _) => one.clone(),
        ([some @ .., last], _) if named.len() <= 4 => format!("{} and {last}", some.join(", ")),
        ([first, ..], _) => format!("{first} and {} more", named.len() - 1),
    };
    match (system(states, &tanks), tanks.len()) {
        (Some(system), _) => format!("{listed}, {}", names.system(system)),
        (None, 1) => format!("{listed}, stands alone"),
        (None, _) => listed,
    }
}
