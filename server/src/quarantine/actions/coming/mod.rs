//! What the people of a room must be told in time: the one place that reads units for messages, calendars and mail.
//!
//! Only tells: nothing here clears anything, and nothing is kept. Names nobody: a calendar must not.

mod unit;

use tarn_domain::quarantine::RoomFacts;
use tarn_domain::streams::{At, ClubId, StreamId, UnitId};

use self::unit::OfUnit;
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
    /// Whether something besides the days is in the way.
    pub is_held_up: bool,
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
        // Told anew when nothing is in the way any more.
        let held_up = if self.is_held_up { ":held-up" } else { "" };
        format!("quarantine:{}:{}:{}{held_up}", self.what.word(), self.unit, self.at.seconds())
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
    let (look, (quarantine, clubs)) = look(ctx, room, |memory| compute(memory, now)).await?;
    let states = look.states();
    let empty = RoomFacts::default();
    let facts = states.facts.unwrap_or(&empty);
    let lines = views::for_room(&states, &quarantine, room, look.wall);
    let mut all = Vec::new();
    for (at, ((unit, clubs), line)) in quarantine.units().iter().zip(clubs).zip(&lines).enumerate() {
        let signed = unit.recalled.and_then(|op| facts.signed.iter().find(|signed| signed.op == op));
        let of = OfUnit {
            unit,
            name: &line.line.name.text(),
            clubs: &clubs,
            is_free: quarantine.blockers[at].is_empty(),
            signed_at: signed.map(|signed| signed.at),
            wall: look.wall,
        };
        all.extend(of.coming());
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
            is_held_up: false,
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
            (coming(What::Gap, "2026-03-20T12:00:00Z"), coming(What::Due, "2026-03-19T18:00:00Z"));
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
