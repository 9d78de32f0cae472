//! Every time that a unit's days began, how far they came, and the words for it. Under one rule they follow one another:
//! each beginning ends the days before it. Under the other, fish that come later have days of their own beside those of
//! the first, and all wait for the last. Which holds is the clock's; nothing is counted here that it has not counted.

use tarn_domain::quarantine::{Run, SharedWater, Unit, UnitState, Why};
use tarn_domain::streams::At;

use super::RunRow;
use super::began::{Began, began, who};
use super::course::{Treated, called};
use super::lines::days;
use super::timeline::Row;
use crate::platform::day::DAY;
use crate::platform::html::Link;
use crate::quarantine::actions::UnitLook;
use crate::rooms::views::Teller;

/// The longest name of a treatment that the picture has room for.
const NAME_IN_PICTURE: usize = 26;

/// The days ran once.
#[derive(Debug, Clone, Copy)]
pub struct Ran {
    /// When they began, and why.
    pub run: Run,
    /// What began them again; none: they run, or are done.
    next: Option<Run>,
    /// Which one it is, from 0.
    place: usize,
    /// Whether they began beside others that go on.
    beside: bool,
    /// Whether these are the days that the unit waits for.
    counts: bool,
}

/// Every time the days began, the first first.
pub fn runs(unit: &Unit) -> Vec<Ran> {
    let mut all: Vec<(Run, Option<Run>)> = Vec::new();
    match unit.shared_water {
        SharedWater::Restart => {
            let mut chain = unit.runs.clone();
            // The last beginning may be another member's.
            if let Some(start) = unit.start
                && chain.last().is_none_or(|run| run.start < start)
            {
                let last = unit.members.iter().flat_map(|m| &m.runs).find(|run| run.start == start);
                chain.extend(last.copied());
            }
            all.extend(chain.iter().enumerate().map(|(i, run)| (*run, chain.get(i + 1).copied())));
        }
        SharedWater::WaitForLast => {
            for member in &unit.members {
                for (i, run) in member.runs.iter().enumerate() {
                    let next = member.runs.get(i + 1).copied();
                    match all.iter_mut().find(|(other, _)| other == run) {
                        // Whoever goes on counts: fish that came together may have parted.
                        Some((_, end)) => *end = end.and(next),
                        None => all.push((*run, next)),
                    }
                }
            }
            all.sort_by_key(|(run, _)| run.start);
        }
    }
    let last = all.len().saturating_sub(1);
    let one = |(place, (run, next)): (usize, (Run, Option<Run>))| {
        let own = unit.shared_water == SharedWater::WaitForLast;
        let beside = own && place > 0 && matches!(run.why, Why::Arrived(_) | Why::Breached(_));
        Ran { run, next, place, beside, counts: place == last }
    };
    all.into_iter().enumerate().map(one).collect()
}

impl Ran {
    /// Whole days that passed of so many, and whether that is all.
    fn done(&self, of: &UnitLook) -> (i64, bool) {
        let total = i64::from(of.unit.days.0);
        let done = whole_days(self.run.start, of.look.now()).clamp(0, total);
        (done, done == total)
    }

    /// When its own days are done.
    fn due(&self, unit: &Unit) -> At {
        self.run.start.plus(unit.days)
    }
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

fn ordinal(place: usize) -> String {
    ORDINALS.get(place).map_or_else(|| format!("Run {}", place + 1), |word| format!("{word} run"))
}

/// A row of the picture.
pub fn row(of: &UnitLook, teller: &Teller<'_>, ran: &Ran, treated: &[Treated<'_>]) -> Row {
    let (wall, now, unit) = (of.look.wall, of.look.now(), &of.unit);
    let start = ran.run.start.seconds();
    let row = Row { start, title: title(of, teller, ran, treated), ..Row::default() };
    if let Some(next) = ran.next {
        return Row {
            end: Some(next.start.seconds()),
            again: true,
            due: Some(ran.due(unit).seconds()),
            strong: format!(
                "{}. Began again {}:",
                so_long(whole_days(ran.run.start, next.start)),
                wall.day(next.start.seconds())
            ),
            plain: began(of, teller, next, false).short,
            ..row
        };
    }
    let treating = unit.due.is_none();
    if !ran.counts {
        let (due, (done, is_all)) = (ran.due(unit), ran.done(of));
        return match (treating, is_all) {
            (true, _) => Row { plain: "stopped, too, while the treatment runs".into(), ..row },
            (false, true) => Row {
                end: Some(due.seconds()),
                strong: format!("{done}\u{a0}days done on {}", wall.day(due.seconds())),
                plain: "waits for the last".into(),
                ..row
            },
            (false, false) => Row {
                due: Some(due.seconds()),
                strong: format!("{done} days done, {} to go", i64::from(unit.days.0) - done),
                plain: "then it waits for the last".into(),
                ..row
            },
        };
    }
    let (done, total) = days(unit, wall);
    let plain = match unit.state {
        _ if treating => "a treatment runs; the days begin again at its end".to_owned(),
        _ if done >= total => format!("all {total} days are done"),
        _ => format!("{done} days done, {} to go", total - done),
    };
    let due = unit.due.map(At::seconds);
    Row {
        due,
        due_words: due.map(|due| wall.day(due)),
        strong: format!("Today, {}", wall.day(now.seconds())),
        plain,
        ..row
    }
}

/// What stands above a row: which run, why it began if no row above says so, and how its water was treated.
fn title(of: &UnitLook, teller: &Teller<'_>, ran: &Ran, treated: &[Treated<'_>]) -> String {
    let mut title = ordinal(ran.place);
    if ran.place == 0 {
        let why = began(of, teller, ran.run, true).short;
        title = format!("{title}: {why}, {}", of.look.wall.day(ran.run.start.seconds()));
    } else if ran.beside {
        title = format!("{title}: {}", who(of, teller, ran.run));
    }
    let until = ran.next.map_or(of.look.now(), |next| next.start);
    let within = treated.iter().find(|t| t.from < until && t.until.is_none_or(|end| end > ran.run.start));
    let Some(treatment) = within else { return title };
    let name = called(treatment.state);
    let short = Some(&name).filter(|name| name.chars().count() <= NAME_IN_PICTURE);
    let with = treatment.state.with.map_or("treated", |with| with.plain());
    format!("{title}; striped: {}", short.map_or(with, String::as_str))
}

/// The same in words.
pub fn in_words(of: &UnitLook, teller: &Teller<'_>) -> Vec<RunRow> {
    let total = of.unit.days.0;
    let one = |ran: &Ran| {
        let Began { words, entry, .. } = began(of, teller, ran.run, ran.place == 0);
        let how_far = match ran.next {
            Some(next) => {
                format!("{} of {total}, then began again", so_long(whole_days(ran.run.start, next.start)))
            }
            None if of.unit.state == UnitState::Treating => "stopped while a treatment runs".into(),
            None if ran.counts => {
                let (done, total) = days(&of.unit, of.look.wall);
                format!("{done} of {total} days done")
            }
            None => match ran.done(of) {
                (done, true) => format!("{done} of {total} days done; waits for the last"),
                (done, false) => format!("{done} of {total} days done"),
            },
        };
        RunRow {
            when: of.look.wall.moment(ran.run.start.seconds()),
            why: words,
            link: entry
                .filter(|op| of.entries.contains(op))
                .map(|op| Link { href: format!("#entry-{op}"), words: "The\u{a0}entry".into() }),
            days: how_far,
        }
    };
    runs(&of.unit).iter().map(one).collect()
}
