//! The page of a unit: how it stands, why it began again, what else is in the way and what clears it, what it holds,
//! what was recorded, by which rule.

use tarn_domain::quarantine::{Cause, Member, RoomFacts, SharedWater, UnitState};
use tarn_domain::rooms::Came;
use tarn_domain::state::RoomStates;
use tarn_domain::streams::{At, OpId};

use super::blockers::{CameBack, Scene, blockers};
use super::course::{picture, treated_in_words};
use super::lines::{days, name, stocks, system, tanks};
use super::noted::record;
use super::people::{ClubOf, People, You};
use super::runs::in_words;
use super::{MemberRow, UnitPage};
use crate::platform::day::DAY;
use crate::platform::errors::Problem;
use crate::platform::html::{FormErrors, Link, Page};
use crate::platform::parts::State;
use crate::platform::words::{RunKind, Words};
use crate::quarantine::actions::{Looked, UnitLook, opened};
use crate::rooms::actions::read::Writers;
use crate::rooms::views::{Beside, Names, Teller, entry_rows, how_many, natural, newest_reading};

/// What the page of a unit is made of.
pub struct Parts<'a> {
    /// The unit.
    pub of: &'a UnitLook,
    /// Who has a say.
    pub people: &'a People,
    /// Who wrote what.
    pub writers: &'a Writers,
    /// What areas above tell.
    pub beside: Beside,
    /// What has just been done.
    pub said: Option<&'static str>,
    /// A form that came back.
    pub came_back: &'a CameBack,
    /// Why it came back.
    pub problem: Option<&'a Problem>,
}

/// Puts the page together; `new` makes the id that a form carries.
pub fn page(page: impl FnOnce(String) -> Page, parts: &Parts<'_>, mut new: impl FnMut() -> OpId) -> UnitPage {
    let Parts { of, people, writers, beside, .. } = *parts;
    let states = of.look.states();
    let teller =
        Teller { names: Names { states: &states, beside }, wall: of.look.wall, about: None, by_tank: false };
    let name = name(&states, &stocks(&of.unit), of.look.now());
    let sign = format!("/sign-off/{}/{}", of.look.id, of.unit.id);
    let scene = Scene { of, people, teller: &teller, writers, came_back: parts.came_back, entries_at: "" };
    let blockers = blockers(&scene, &mut new);
    let may_sign = matches!(people.you, You::Steward(..)) && of.unit.is_done(of.look.now());
    let printed = name.text();
    UnitPage {
        heading: name.clone(),
        state: State::of(of.unit.state.word()),
        lead: lead(of, people, blockers.len()),
        said: parts.said.map(Words::plain),
        errors: parts.problem.map(|problem| FormErrors::of("Not let pass", problem)),
        emergency: matches!(people.you, You::Steward(..)).then(|| Link {
            href: format!("/parcels/agree/{}/{}", of.look.id, of.unit.id),
            words: "Let its fish leave in one parcel".into(),
        }),
        sign_off: may_sign.then(|| Link { href: sign, words: "Read and sign".into() }),
        picture: picture(of, &teller),
        legend: legend(of),
        runs: in_words(of, &teller),
        treated: treated_in_words(of, &teller),
        blockers,
        members: members(of, &teller, came_from),
        shares: shares(of, &states, &teller),
        record: record(of, &of.record(), &teller),
        entries: entry_rows(&of.entries, &of.traces, &teller, writers, None),
        rule: rule(of, &states, people),
        printed: format!(
            "{printed}, {}, as recorded {}. Not a health certificate.",
            of.look.room.name,
            of.look.wall.moment(of.look.wall.now_s())
        ),
        page: page(name.text()),
    }
}

fn legend(of: &UnitLook) -> String {
    if of.unit.start.is_none() {
        let since = of.look.wall.moment(opened(&of.unit).seconds());
        return format!("Came on {since}. The days begin when the fish go into water; a bag has none.");
    }
    let total = of.unit.days.0;
    let runs = match of.unit.shared_water {
        SharedWater::Restart => format!("Each run begins at its own day and would need {total}."),
        SharedWater::WaitForLast => format!(
            "Under this rule fish that come later have {total} days of their own, and all in this water wait for the last."
        ),
    };
    format!(
        "{runs} Filled: days that passed. Dotted: days that no longer count, or are still to come. The long stroke on \
         the calendar, and the short ones below it, are today."
    )
}

fn lead(of: &UnitLook, people: &People, blockers: usize) -> Words {
    let (wall, unit) = (of.look.wall, &of.unit);
    let (done, total) = days(unit, wall);
    let due = unit.due.map_or(0, At::seconds);
    let more = more_in_the_way(of, blockers);
    let until = |words: String| Words::plain(words).and(RunKind::Strong, wall.moment(due));
    match unit.state {
        UnitState::InTheBag => Words::plain(
            "Not ready. The fish are still in the bag; the days begin when they go into water of their own.",
        ),
        UnitState::Treating => Words::plain(
            "Not ready. A treatment runs, so the days don\u{2019}t; they begin again when it ends.",
        ),
        UnitState::Recalled if unit.due.is_none() => Words::plain(
            "Its sign-off was recalled and counts as never given. A treatment runs, so no day can be told.",
        ),
        UnitState::Recalled if due <= wall.now_s() => Words::plain(
            "Its sign-off was recalled and counts as never given. Nothing of it may leave until a steward has signed again.",
        ),
        UnitState::Recalled => until(format!(
            "Its sign-off was recalled and counts as never given. {done} of {total} days are done; not before "
        ))
        .and(RunKind::Plain, "."),
        UnitState::Running => until(format!("Not ready. {done} of {total} days are done; not before "))
            .and(RunKind::Plain, format!(".{more}")),
        UnitState::Due => {
            let who = if people.clubs.is_empty() {
                "Days completed, not cleared: nobody can sign, since the room has no home club.".into()
            } else {
                match people.clubs.len() {
                    1 => format!("A health steward of {} has to sign.", people.clubs()),
                    _ => format!("A health steward of each club has to sign: {}.", people.clubs()),
                }
            };
            let before = if of.blockers.is_empty() { "" } else { " Not ready: something is in the way." };
            Words::plain(format!("{total} days were done on {}. {who}{before}", wall.moment(due)))
        }
    }
}

/// How much stands in the way besides the days, and whether that may move them.
fn more_in_the_way(of: &UnitLook, blockers: usize) -> String {
    let gap = of.unit.gaps.iter().map(|gap| gap.until).max();
    let later = gap.map_or_else(String::new, |until| {
        let due = until.plus(of.unit.days);
        let due = of.unit.due.map_or(due, |now| now.max(due));
        format!("; the time without a look may move that day to {}", of.look.wall.day(due.seconds()))
    });
    match blockers {
        0 => String::new(),
        1 => format!(" One more thing stands in the way{later}."),
        2 => format!(" Two more things stand in the way{later}."),
        n => format!(" {n} more things stand in the way{later}."),
    }
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
    let word = if days == 1 { "day" } else { "days" };
    format!("{days} {word}, from {}", of.look.wall.moment(m.since.seconds()))
}

fn came_from(of: &UnitLook, teller: &Teller<'_>, m: &Member) -> String {
    let stock = teller.names.states.stocks.get(&m.stock);
    let day = of.look.wall.lately(m.since.seconds());
    match m.cause {
        Cause::Breach => return format!("home fish, in this water since {day}"),
        Cause::Companion => return format!("test companions, in this water since {day}"),
        Cause::Introduced | Cause::Descent => {}
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

fn rule(of: &UnitLook, states: &RoomStates<'_>, people: &People) -> Vec<String> {
    let empty = RoomFacts::default();
    let facts = states.facts.unwrap_or(&empty);
    let opened = opened(&of.unit);
    let mut all = Vec::new();
    for ClubOf { id, name, .. } in &people.clubs {
        all.push(match facts.rule_at(*id, opened) {
            Some(rule) => format!(
                "The rule of {name}, version {}, in force since {}.",
                rule.version,
                of.look.wall.day(rule.from.seconds())
            ),
            None => format!("{name} had adopted no rule of its own then, so the shipped one holds."),
        });
    }
    if all.is_empty() {
        all.push("The shipped rule, as advice: the room has no home club.".into());
    }
    let share = match of.unit.shared_water {
        SharedWater::Restart => {
            "Whatever comes into the same water later begins the days again for all of it."
        }
        SharedWater::WaitForLast => {
            "Whatever shares the water keeps its own days, and all wait until the last has done its own."
        }
    };
    let rule = &of.unit.rule;
    all.push(format!("Held for {} whole days of 24 hours. {share}", of.unit.days.0));
    all.push(format!(
        "A look at least every {} days; what reaches the server later than {} hours after it happened is read by a \
         steward. Water stays the unit\u{2019}s for {} days after the last fish has left it.",
        rule.observe_every_days.0, rule.late_after_hours, rule.water_days.0
    ));
    all.extend(people.short_of_stewards());
    all
}
