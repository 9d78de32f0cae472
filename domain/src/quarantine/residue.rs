//! What is left of a unit in water that its fish have left: it stays the unit's for the rule's days. Must not know
//! who is where.

use super::member::Terms;
use super::moment::Tank;
use crate::streams::At;

/// Water that is still a unit's.
#[derive(Debug, Clone)]
pub(super) struct Residue {
    pub terms: Terms,
    /// The last instant at which a member was in it; none: one is.
    last: Option<At>,
}

impl Residue {
    /// Whether it is nothing any more. Where members come as the last ones go it never was without.
    fn is_over(&self, at: At, is_held: bool) -> bool {
        let goes_on = is_held && self.last == Some(at);
        !goes_on && self.last.is_some_and(|last| at >= last.plus(self.terms.rule.water_days))
    }
}

/// The residue of every tank and sump.
#[derive(Debug, Clone)]
pub(super) struct Residues {
    of: Vec<Option<Residue>>,
    /// After this nothing is left anywhere, unless members are.
    end: At,
}

impl Residues {
    /// Of so many tanks and sumps.
    pub fn new(tanks: usize) -> Self {
        Self { of: vec![None; tanks], end: At::from_seconds(i64::MIN) }
    }

    /// Whether there may be any at an instant, apart from what members are in.
    pub fn is_none(&self, at: At) -> bool {
        at >= self.end
    }

    /// Whether there may be any in these.
    pub fn are_in(&self, tanks: &[Tank]) -> bool {
        tanks.iter().any(|tank| self.of[*tank].is_some())
    }

    /// What lives of a tank's at an instant; whether members are in its water then.
    pub fn living(&mut self, tank: Tank, at: At, is_held: bool) -> Option<&Residue> {
        if self.of[tank].as_ref().is_some_and(|residue| residue.is_over(at, is_held)) {
            self.of[tank] = None;
        }
        self.of[tank].as_ref()
    }

    /// Members are in this water, or it met what is left of one: all of its tanks have these terms.
    pub fn set(&mut self, tanks: &[Tank], terms: &Terms, is_held: bool, at: At) {
        let last =
            tanks.iter().filter_map(|tank| self.of[*tank].as_ref()).map(|r| r.last.unwrap_or(at)).max();
        let last = if is_held { None } else { Some(last.unwrap_or(at)) };
        for tank in tanks {
            self.of[*tank] = Some(Residue { terms: terms.clone(), last });
        }
        let until = last.unwrap_or(at).plus(terms.rule.water_days);
        self.end = self.end.max(until);
    }

    /// Up to this instant members were in these, if they were in them at all.
    pub fn until(&mut self, tanks: &[Tank], at: At) {
        for tank in tanks {
            if let Some(residue) = &mut self.of[*tank] {
                residue.last.get_or_insert(at);
            }
        }
    }

    /// Nothing is left in these.
    pub fn clear(&mut self, tanks: impl IntoIterator<Item = Tank>) {
        for tank in tanks {
            self.of[tank] = None;
        }
    }
}
