//! What the people of a room must be told in time: the one place that reads units for messages, calendars and mail.
//!
//! Only tells: nothing here clears anything, and nothing is kept. Names nobody: a calendar must not.

use tarn_domain::quarantine::{Unit, UnitState};
use tarn_domain::streams::{At, ClubId, StreamId, UnitId};

use super::units::compute;
use crate::platform::day::{DAY, Wall};
use crate::platform::{Ctx, Result};
use crate::quarantine::views;
use crate::rooms::actions::read::look;

/// How long before something needs a deed it is told.
const NOTICE_S: i64 = DAY;

/// What is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum What {
    /// The days are done: a steward may sign.
    Due,
    /// Without a look until then, a gap opens in the record.
    Gap,
    /// A treatment is to end.
    TreatmentEnd,
    /// Home fish share the water of a unit.
    Breach,
    /// A sign-off does not stand.
    Recalled,
}

impl What {
    /// Part of what makes a fact the same fact; never changed.
    pub fn word(self) -> &'static str {
        match self {
            Self::Due => "due",
            Self::Gap => "gap",
            Self::TreatmentEnd => "treatment-end",
            Self::Breach => "breach",
            Self::Recalled => "recalled",
        }
    }

    /// Whether the stewards of the clubs are told too: what they sign, and what undoes it.
    pub fn is_for_stewards(self) -> bool {
        matches!(self, Self::Due | Self::Breach | Self::Recalled)
    }

    /// Whether it stands in calendars: what has a time at which somebody does something.
    pub fn is_in_calendars(self) -> bool {
        matches!(self, Self::Due | Self::Gap | Self::TreatmentEnd)
    }

    /// Whether it is of no use once its time is over.
    fn ends_at_its_time(self) -> bool {
        matches!(self, Self::Gap | Self::TreatmentEnd)
    }
}

/// Something of a unit that somebody must be told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Coming {
    /// What.
    pub what: What,
    /// When it is, or was.
    pub at: At,
    /// The unit.
    pub unit: UnitId,
    /// What the unit is called: tanks and the water they share.
    pub name: String,
    /// In a few words, for a calendar.
    pub title: String,
    /// One sentence or two, by the room's clock.
    pub words: String,
    /// The clubs whose rule holds.
    pub clubs: Vec<ClubId>,
}

impl Coming {
    /// From when on it is told.
    pub fn told_from(&self) -> i64 {
        let notice = if self.what.ends_at_its_time() { NOTICE_S } else { 0 };
        self.at.seconds().saturating_sub(notice)
    }

    /// Whether it is to be told now.
    pub fn is_told_at(&self, now_s: i64) -> bool {
        self.told_from() <= now_s && !(self.what.ends_at_its_time() && self.at.seconds() <= now_s)
    }

    /// The same for the same fact: it is told once, and again when it has moved.
    pub fn fact(&self) -> String {
        format!("quarantine:{}:{}:{}", self.what.word(), self.unit, self.at.seconds())
    }
}

/// A room and what is coming in it.
pub struct RoomAhead {
    /// Which.
    pub room: StreamId,
    /// What it is called.
    pub name: String,
    /// Its clock.
    pub wall: Wall,
    /// The head of its stream.
    pub head: u64,
    /// When that was received, in milliseconds.
    pub received_ms: i64,
    /// What is coming, by unit.
    pub coming: Vec<Coming>,
}

impl RoomAhead {
    /// When the room must be looked at again though nothing was written, in milliseconds: when time brings something
    /// more to tell, and after a day in any case, since roles, clubs and this program change too.
    pub fn next_ms(&self) -> i64 {
        let now = self.wall.now_s();
        let later = self.coming.iter().map(Coming::told_from).filter(|at| *at > now);
        later.chain([now + DAY]).min().unwrap_or(now + DAY).saturating_mul(1000)
    }
}

/// What is coming in a room, at the server's time.
pub async fn coming(ctx: &Ctx, room: StreamId) -> Result<RoomAhead> {
    let now = At::from_seconds(ctx.clock.now_ms().div_euclid(1000));
    let (look, (units, clubs)) = look(ctx, room, |memory| compute(memory, now)).await?;
    let lines = views::for_room(&look.states(), room, look.wall);
    let mut all = Vec::new();
    for (unit, clubs) in units.iter().zip(clubs) {
        let holds = |stocks: &[_]| unit.members.iter().all(|m| stocks.contains(&m.stock));
        let line = lines.iter().find(|line| holds(&line.stocks));
        all.extend(of_unit(unit, line.map_or("A unit", |line| &line.line.name), &clubs, look.wall));
    }
    Ok(RoomAhead {
        room,
        name: look.room.name.clone(),
        wall: look.wall,
        head: look.head,
        received_ms: look.received.0,
        coming: all,
    })
}

/// What is coming of one unit.
///
/// Due days are told so far. When the clock knows more, it is told here and nowhere else:
/// - `What::Gap`: `at` is when the longest time between two looks is over; `gap_words(at, wall)`;
/// - `What::TreatmentEnd`: `at` is the end of the treatment that runs; `treatment_words(at, wall)`;
/// - `What::Breach`: `at` is when home fish came into this water; `breach_words(at, wall)`;
/// - `What::Recalled`: `at` is when the later op was received, so that a recall after a new sign-off is a new fact.
fn of_unit(unit: &Unit, name: &str, clubs: &[ClubId], wall: Wall) -> Vec<Coming> {
    let one = |what: What, at: At, (title, words): (String, String)| Coming {
        what,
        at,
        unit: unit.id,
        name: name.to_owned(),
        title: format!("{name}: {title}"),
        words,
        clubs: clubs.to_vec(),
    };
    let mut all = Vec::new();
    if let (UnitState::Running | UnitState::Due, Some(due)) = (unit.state, unit.due) {
        all.push(one(What::Due, due, due_words(due, clubs.is_empty(), wall)));
    }
    all
}

fn due_words(due: At, no_club: bool, wall: Wall) -> (String, String) {
    let over = due.seconds() <= wall.now_s();
    let (are, then) = if over { ("were", "now") } else { ("will be", "then") };
    let who = if no_club {
        "The room has no home club, so nobody can clear it, and nothing may leave.".into()
    } else {
        format!("A health steward may sign {then}; nothing may leave before that.")
    };
    ("days done".into(), format!("Its days {are} done on {}. {who}", wall.moment(due.seconds())))
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;

    fn at(text: &str) -> At {
        At::from_seconds(chrono::DateTime::parse_from_rfc3339(text).expect("a time").timestamp())
    }

    fn coming(what: What, time: &str) -> Coming {
        let unit = UnitId(Uuid::nil());
        Coming {
            what,
            at: at(time),
            unit,
            name: "Q1".into(),
            title: String::new(),
            words: String::new(),
            clubs: vec![],
        }
    }

    #[test]
    fn a_day_is_24_hours_and_is_told_by_the_rooms_clock() {
        // Thirty days over each change of Europe's clocks in 2026.
        for (zone, start, says) in [
            ("Europe/Oslo", "2026-03-10T17:40:00Z", "Thu 9 Apr, 19:40"),
            ("Europe/Oslo", "2026-10-01T16:40:00Z", "Sat 31 Oct, 17:40"),
            ("Europe/Lisbon", "2026-03-10T23:30:00Z", "Fri 10 Apr, 00:30"),
            ("Europe/Athens", "2026-10-01T21:30:00Z", "Sat 31 Oct, 23:30"),
            // 01:30 UTC on the night of the change: the hour that is left out, and the one that comes twice
            ("Europe/Oslo", "2026-02-27T01:30:00Z", "Sun 29 Mar, 03:30"),
            ("Europe/Oslo", "2026-09-25T01:30:00Z", "Sun 25 Oct, 02:30"),
        ] {
            let due = At::from_seconds(at(start).seconds() + 30 * DAY);
            let (_, words) = due_words(due, false, Wall::new(zone, due.ms() - 1));
            assert!(
                words.starts_with(&format!("Its days will be done on {says}. A health")),
                "{zone}: {words}"
            );
            let (_, words) = due_words(due, true, Wall::new(zone, due.ms()));
            assert!(words.starts_with(&format!("Its days were done on {says}. The room")), "{zone}: {words}");
        }
    }

    #[test]
    fn each_is_told_in_its_time_and_once() {
        let due = coming(What::Due, "2026-03-29T00:30:00Z");
        let then = due.at.seconds();
        assert!(!due.is_told_at(then - 1) && due.is_told_at(then) && due.is_told_at(then + 40 * DAY));
        let gap = coming(What::Gap, "2026-03-29T00:30:00Z");
        assert!(!gap.is_told_at(then - DAY - 1) && gap.is_told_at(then - DAY) && !gap.is_told_at(then));
        assert_ne!(due.fact(), gap.fact());
        assert_ne!(
            due.fact(),
            coming(What::Due, "2026-03-29T00:30:01Z").fact(),
            "one that has moved is told anew"
        );
        assert_eq!(due.fact(), coming(What::Due, "2026-03-29T00:30:00Z").fact());
    }

    #[test]
    fn the_next_look_is_at_what_comes_next() {
        let (gap, due) =
            (coming(What::Gap, "2026-03-20T12:00:00Z"), coming(What::Due, "2026-04-09T12:00:00Z"));
        let (told, due_at) = (gap.told_from(), due.at.seconds());
        let mut ahead = RoomAhead {
            room: StreamId(Uuid::nil()),
            name: String::new(),
            wall: Wall::new("Europe/Oslo", (told - 1) * 1000),
            head: 0,
            received_ms: 0,
            coming: vec![due, gap],
        };
        assert_eq!(ahead.next_ms(), told * 1000);
        ahead.wall = Wall::new("Europe/Oslo", told * 1000);
        assert_eq!(ahead.next_ms(), due_at * 1000);
        ahead.wall = Wall::new("Europe/Oslo", due_at * 1000);
        assert_eq!(ahead.next_ms(), (due_at + DAY) * 1000);
    }
}
