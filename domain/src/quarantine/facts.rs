//! What the decisions say of a room as a whole: its home clubs, their rules, the sign-offs.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::ops::{
    HomeClubSet, LossJudged, QuarantineCleared, QuarantineWaived, RoomRuleSet, RuleAdopted, Waiver,
};
use crate::clubs::Rule;
use crate::streams::{At, ClubId, OpId, Received, Standing, Touch};

/// A decision about the room.
#[derive(Debug, Clone, Copy)]
pub enum FactEvent<'a> {
    /// A club's rule.
    Rule(&'a RuleAdopted),
    /// The home club.
    Home(&'a HomeClubSet),
    /// A sign-off.
    Cleared(&'a QuarantineCleared),
    /// What a steward let pass.
    Waived(&'a QuarantineWaived),
    /// A loss that a steward holds for unexplained.
    Judged(&'a LossJudged),
    /// A rule of the room's own.
    Own(&'a RoomRuleSet),
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

/// A rule of the room's own, from then on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct OwnRule {
    /// From when.
    pub from: At,
    /// The rule; none: none any more.
    pub rule: Option<Rule>,
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
    /// The room's own rule from then on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub own: Vec<OwnRule>,
    /// What stewards let pass, at a sign-off or before.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub waived: Vec<Waiver>,
    /// Losses that stewards hold for unexplained.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub judged: BTreeSet<OpId>,
}

/// When a quarantine opened, and when the server received the entry that says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Opening {
    /// When the fish went into the water.
    pub at: At,
    /// When that was received, cut to seconds; never before `at`.
    pub received: At,
}

impl Opening {
    /// Of an instant and when it was received.
    pub fn of(at: At, received: Received) -> Self {
        Self { at, received: At::from_seconds(received.0.div_euclid(1000)).max(at) }
    }
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

    /// The room's own rule at an instant.
    fn own_at(&self, at: At) -> Option<&Rule> {
        self.own.iter().rfind(|own| own.from <= at).and_then(|own| own.rule.as_ref())
    }

    /// A club's rule for a quarantine: in the version in force at its opening; if another was in force when the
    /// opening was received, the stricter of both.
    pub fn rule_under(&self, club: ClubId, opening: Opening) -> Rule {
        let [then, later] = [self.rule_at(club, opening.at), self.rule_at(club, opening.received)];
        let rule = then.map_or_else(Rule::shipped, |adopted| adopted.rule.clone());
        match later {
            Some(other) if Some(other) != then => rule.strictest(other.rule.clone()),
            _ => rule,
        }
    }

    /// The rule a quarantine runs under: the strictest of all clubs the room had since its opening and of the room's
    /// own; without a club, the shipped one as advice.
    pub fn rule_for(&self, opening: Opening, now: At) -> Rule {
        let clubs = self.clubs_between(opening.at, now);
        let rules = clubs.into_iter().map(|club| self.rule_under(club, opening));
        let rule = rules.reduce(Rule::strictest).unwrap_or_else(Rule::shipped);
        let own = [self.own_at(opening.at), self.own_at(opening.received)];
        own.into_iter().flatten().fold(rule, |rule, own| rule.strictest(own.clone()))
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
            FactEvent::Own(b) => facts.own.push(OwnRule { from: at, rule: b.rule.clone() }),
            FactEvent::Waived(b) => facts.waived.extend(b.waivers.iter().cloned()),
            FactEvent::Judged(b) => drop(facts.judged.insert(b.entry)),
            FactEvent::Cleared(b) => {
                facts.waived.extend(b.waivers.iter().cloned());
                facts.signed.push(SignedOff { op: touch.written.id, at, says: b.clone() });
            }
        }
    }
    // Of two for the same instant the later decision counts.
    facts.home.sort_by_key(|(from, _)| *from);
    facts
}
