//! What the decisions say of a room as a whole: its home clubs, their rules, the sign-offs.

use serde::{Deserialize, Serialize};

use super::ops::{HomeClubSet, QuarantineCleared, RuleAdopted};
use crate::clubs::Rule;
use crate::streams::{At, ClubId, OpId, Standing, Touch};

/// A decision about the room.
#[derive(Debug, Clone, Copy)]
pub enum FactEvent<'a> {
    /// A club's rule.
    Rule(&'a RuleAdopted),
    /// The home club.
    Home(&'a HomeClubSet),
    /// A sign-off.
    Cleared(&'a QuarantineCleared),
}

/// A rule version that holds from then on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Adopted {
    /// Whose.
    pub club: ClubId,
    /// Which version.
    pub version: u32,
    /// In force from the later of what it says and when it was decided.
    pub from: At,
    /// The rule.
    pub rule: Rule,
}

/// A sign-off.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SignedOff {
    /// The decision.
    pub op: OpId,
    /// When.
    pub at: At,
    /// What it says.
    pub says: QuarantineCleared,
}

/// A room's facts, each list in order of time.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct RoomFacts {
    /// The home club from then on.
    pub home: Vec<(At, Option<ClubId>)>,
    /// All rules ever adopted.
    pub rules: Vec<Adopted>,
    /// All sign-offs.
    pub signed: Vec<SignedOff>,
}

impl RoomFacts {
    /// The home club at an instant.
    pub fn club_at(&self, at: At) -> Option<ClubId> {
        self.home.iter().rfind(|(from, _)| *from <= at).and_then(|(_, club)| *club)
    }

    /// Every home club the room had from one instant to another, each once.
    pub fn clubs_between(&self, from: At, to: At) -> Vec<ClubId> {
        let during = self.home.iter().filter(|(at, _)| *at > from && *at <= to).filter_map(|(_, club)| *club);
        let mut clubs: Vec<ClubId> = self.club_at(from).into_iter().chain(during).collect();
        clubs.sort_unstable();
        clubs.dedup();
        clubs
    }

    /// A club's rule at an instant; none: it had adopted none then.
    pub fn rule_at(&self, club: ClubId, at: At) -> Option<&Adopted> {
        self.rules.iter().filter(|r| r.club == club && r.from <= at).max_by_key(|r| (r.from, r.version))
    }

    /// A club's rule in the version in force at an instant; the shipped one if it had adopted none.
    pub fn rule_of(&self, club: ClubId, at: At) -> Rule {
        self.rule_at(club, at).map_or_else(Rule::shipped, |adopted| adopted.rule.clone())
    }

    /// The rule a quarantine opened at `opened` runs under: the strictest of all clubs the room had since, each
    /// in the version in force at the opening; without any, the shipped one as advice.
    pub fn rule_for(&self, opened: At, now: At) -> Rule {
        let clubs = self.clubs_between(opened, now);
        let rules = clubs.into_iter().map(|club| self.rule_of(club, opened));
        rules.reduce(Rule::strictest).unwrap_or_else(Rule::shipped)
    }
}

/// Folds the room's facts from the decisions, in their order.
pub fn fold_facts(touches: &[Touch<FactEvent<'_>>]) -> RoomFacts {
    let mut facts = RoomFacts::default();
    for touch in touches.iter().filter(|t| t.standing == Standing::Live) {
        let at = touch.counts_at;
        match touch.event {
            FactEvent::Rule(b) => facts.rules.push(Adopted {
                club: b.club,
                version: b.version,
                from: b.from.max(at),
                rule: b.rule.clone(),
            }),
            FactEvent::Home(b) => facts.home.push((b.from.max(at), b.club)),
            FactEvent::Cleared(b) => {
                facts.signed.push(SignedOff { op: touch.written.id, at, says: b.clone() });
            }
        }
    }
    // Of two for the same instant the later decision counts.
    facts.home.sort_by_key(|(from, _)| *from);
    facts
}
