//! Who may sign off a unit, when, and the exact words that then stand.

use std::collections::BTreeSet;

use super::unit::{Unit, UnitState};
use crate::streams::{AccountId, At, Days};

/// What stands wherever a sign-off is shown.
pub const NOT_A_CERTIFICATE: &str = "Not a health certificate.";

/// The words of a sign-off: how long the fish were held, how many signs of disease were recorded within that time,
/// and the day as people read it.
pub fn words(held: Days, signs: usize, day: &str) -> String {
    let days = if held.0 == 1 { "day" } else { "days" };
    let seen = match signs {
        0 => "no signs recorded".to_owned(),
        1 => "one sign recorded".to_owned(),
        n => format!("{n} signs recorded"),
    };
    format!("Held {} {days}, {seen}, cleared by a club steward on {day}. {NOT_A_CERTIFICATE}", held.0)
}

/// What is asked.
pub struct SignOff<'a> {
    /// The unit as the records have it now.
    pub unit: &'a Unit,
    /// Who wants to sign.
    pub steward: AccountId,
    /// The time.
    pub now: At,
    /// Whether they are a health steward who may sign here.
    pub is_steward: bool,
    /// Keepers of the room, whoever wrote an op of the unit, and whoever gave the fish.
    pub parties: &'a BTreeSet<AccountId>,
    /// Whether an op that touches the unit came after what the steward's page showed.
    pub changed_since: bool,
    /// How much is in the way that nobody has let pass.
    pub open: usize,
}

/// Why a unit is not signed off.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SignOffRefusal {
    /// No role.
    #[error("only a health steward of the room's club signs off a unit")]
    NotSteward,
    /// A party.
    #[error("you keep these fish, gave them, or wrote in their records, so another steward has to sign")]
    ByParty,
    /// Too early.
    #[error("{}", not_due(*.0))]
    NotDue(Option<At>),
    /// The days don't run.
    #[error("a treatment runs; the days begin again at its end")]
    Treating,
    /// So much has to be let pass, in writing, or waits.
    #[error("{0} more in the way: each has to be cleared, or let pass in writing")]
    Open(usize),
    /// Read it again.
    #[error("an entry for this unit came in after your page was made; read it again before you sign")]
    ChangedSince,
}

fn not_due(due: Option<At>) -> String {
    match due {
        Some(at) => format!("not before {}", at.plain()),
        None => "the fish are still in the bag; the days begin when they go into water".into(),
    }
}

impl SignOffRefusal {
    /// The stable code of the problem.
    pub fn code(&self) -> &'static str {
        match self {
            Self::NotSteward => "not-a-steward",
            Self::ByParty => "sign-off-by-party",
            Self::NotDue(_) | Self::Treating => "quarantine-not-due",
            Self::Open(_) => "quarantine-blocked",
            Self::ChangedSince => "changed-since",
        }
    }
}

/// Whether a unit may be signed off by this steward now.
///
/// # Errors
/// The first thing in the way.
pub fn may_sign(ask: &SignOff<'_>) -> Result<(), SignOffRefusal> {
    if !ask.is_steward {
        return Err(SignOffRefusal::NotSteward);
    }
    if ask.parties.contains(&ask.steward) {
        return Err(SignOffRefusal::ByParty);
    }
    if ask.changed_since {
        return Err(SignOffRefusal::ChangedSince);
    }
    match ask.unit.due {
        None if ask.unit.state != UnitState::InTheBag => return Err(SignOffRefusal::Treating),
        None => return Err(SignOffRefusal::NotDue(None)),
        Some(due) if due > ask.now => return Err(SignOffRefusal::NotDue(Some(due))),
        Some(_) => {}
    }
    if ask.open > 0 {
        return Err(SignOffRefusal::Open(ask.open));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_never_say_more_than_the_records() {
        let say = |signs| words(Days(31), signs, "7 May 2026");
        assert_eq!(
            say(0),
            "Held 31 days, no signs recorded, cleared by a club steward on 7 May 2026. Not a health certificate."
        );
        assert!(say(1).contains(", one sign recorded,") && say(3).contains(", 3 signs recorded,"));
    }
}
