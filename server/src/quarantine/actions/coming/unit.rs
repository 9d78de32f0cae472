//! What is told of one unit, in words by the room's clock.

use std::collections::BTreeSet;

use tarn_domain::quarantine::{Cause, Member, Unit, UnitState};
use tarn_domain::streams::{At, ClubId};

use super::{Coming, What};
use crate::platform::day::Wall;

/// One unit, as far as something of it is told.
pub(super) struct OfUnit<'a> {
    pub unit: &'a Unit,
    pub name: &'a str,
    pub clubs: &'a [ClubId],
    /// Whether nothing but the days is in the way.
    pub is_free: bool,
    /// When the sign-off was given that was recalled.
    pub signed_at: Option<At>,
    pub wall: Wall,
}

impl OfUnit<'_> {
    /// What is told of it, or will be.
    pub fn coming(&self) -> Vec<Coming> {
        if self.unit.state == UnitState::InTheBag {
            return Vec::new();
        }
        let mut all = Vec::new();
        if let Some(at) = self.signed_at {
            all.push(self.one(What::Recalled, at, "sign-off recalled", self.recalled_words(at)));
        }
        for since in self.breaches() {
            all.push(self.one(What::Breach, since, "home fish in its water", self.breach_words(since)));
        }
        if let Some(at) = self.next_gap() {
            all.push(self.one(What::Gap, at, "a look is needed", self.gap_words(at)));
        }
        if let Some(at) = self.unit.treated_to.filter(|at| at.seconds() > self.wall.now_s()) {
            all.push(self.one(What::TreatmentEnd, at, "a treatment is to end", self.treatment_words(at)));
        }
        if let Some(due) = self.unit.due {
            let words = due_words(due, self.clubs.is_empty(), self.is_free, self.wall);
            all.push(self.one(What::Due, due, "days done", words));
        }
        all
    }

    fn one(&self, what: What, at: At, title: &str, words: String) -> Coming {
        Coming {
            what,
            at,
            unit: self.unit.id,
            name: self.name.to_owned(),
            title: format!("{}: {title}", self.name),
            words,
            clubs: self.clubs.to_vec(),
            is_held_up: what == What::Due && !self.is_free,
        }
    }

    /// When home fish began to share this water, each time once.
    fn breaches(&self) -> BTreeSet<At> {
        self.unit.members.iter().filter(|m| m.cause == Cause::Breach).map(|m| m.since).collect()
    }

    /// When the first of the members has been without a look for too long; none if one has been already: then that is
    /// in the way, and no news.
    fn next_gap(&self) -> Option<At> {
        let opens = |m: &Member| m.last_look.plus(m.rule.observe_every_days);
        let first = self.unit.members.iter().map(opens).min()?;
        (first.seconds() > self.wall.now_s()).then_some(first)
    }

    fn recalled_words(&self, at: At) -> String {
        format!(
            "Its sign-off of {} counts as never given: what was written since speaks against it. Nothing may leave \
             until a health steward has signed anew.",
            self.wall.moment(at.seconds())
        )
    }

    fn breach_words(&self, since: At) -> String {
        format!(
            "Home fish share its water since {}: they are held with it now. Its page says which, and what to do.",
            self.wall.moment(since.seconds())
        )
    }

    fn treatment_words(&self, at: At) -> String {
        format!(
            "The treatment of its water is to end on {}. Write down its end when the label and the veterinarian say that \
             it is over and what was put in is out of the water; from then on the days begin again.",
            self.wall.moment(at.seconds())
        )
    }

    fn gap_words(&self, at: At) -> String {
        format!(
            "Look at the fish before {}, and write it down: after that the time without a look is in the way of the \
             sign-off.",
            self.wall.moment(at.seconds())
        )
    }
}

fn due_words(due: At, no_club: bool, is_free: bool, wall: Wall) -> String {
    let is_over = due.seconds() <= wall.now_s();
    let (are, then) = if is_over { ("were", "now") } else { ("will be", "then") };
    let who = match (no_club, is_free) {
        (true, _) => "The room has no home club, so nobody can clear it, and nothing may leave.".into(),
        (false, true) => format!("A health steward may sign {then}; nothing may leave before that."),
        (false, false) => "Something else is in the way; its page says what clears it.".into(),
    };
    format!("Its days {are} done on {}. {who}", wall.moment(due.seconds()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::platform::day::DAY;

    fn at(text: &str) -> At {
        At::from_seconds(chrono::DateTime::parse_from_rfc3339(text).expect("a time").timestamp())
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
            let words = due_words(due, false, true, Wall::new(zone, due.ms() - 1));
            assert!(
                words.starts_with(&format!("Its days will be done on {says}. A health")),
                "{zone}: {words}"
            );
            let words = due_words(due, true, true, Wall::new(zone, due.ms()));
            assert!(words.starts_with(&format!("Its days were done on {says}. The room")), "{zone}: {words}");
        }
    }

    #[test]
    fn what_is_in_the_way_is_said() {
        let due = at("2026-04-09T17:40:00Z");
        let words = due_words(due, false, false, Wall::new("Europe/Oslo", due.ms()));
        assert!(
            words.ends_with("19:40. Something else is in the way; its page says what clears it."),
            "{words}"
        );
    }
}
