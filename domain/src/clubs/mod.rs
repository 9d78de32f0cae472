//! Clubs: the roles somebody may have there, the member list, and the club's written quarantine rule.
//!
//! Only the words; who has which role is in the server's database.

pub mod people;
mod rule;

use std::fmt;

use serde::{Deserialize, Serialize};

pub use rule::{RestartOn, Rule, RuleError, SharedWater, TreatmentClock, UnopenedBag};

/// What a member may do for a club. Being a member alone is a role too.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Reads the club's published things, lists, swaps, bids, keeps rooms.
    Member,
    /// Signs off quarantine, opens and closes disease reports.
    HealthSteward,
    /// Reviews and publishes care sheets.
    Librarian,
    /// Numbers lots, registers bidders, hands out bags.
    BookingClerk,
    /// Writes down the hammer prices.
    Recorder,
    /// Settles a sale and keeps its ledger.
    Treasurer,
    /// Members, roles, rules, settings, awards.
    Secretary,
}

impl Role {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Member,
        Self::HealthSteward,
        Self::Librarian,
        Self::BookingClerk,
        Self::Recorder,
        Self::Treasurer,
        Self::Secretary,
    ];

    /// Its word in the API and the database.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Member => "member",
            Self::HealthSteward => "health_steward",
            Self::Librarian => "librarian",
            Self::BookingClerk => "booking_clerk",
            Self::Recorder => "recorder",
            Self::Treasurer => "treasurer",
            Self::Secretary => "secretary",
        }
    }

    /// The role of this word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.as_str() == word)
    }

    /// For people: "health steward".
    pub fn words(self) -> String {
        self.as_str().replace('_', " ")
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl std::str::FromStr for Role {
    type Err = String;
    fn from_str(word: &str) -> Result<Self, String> {
        let known = || Self::ALL.map(Self::as_str).join(", ");
        Self::parse(word).ok_or_else(|| format!("“{word}” is no role; there are {}", known()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_in_json_and_in_the_database_are_the_same() {
        for role in Role::ALL {
            assert_eq!(serde_json::to_value(role).expect("json"), role.as_str());
            assert_eq!(role.as_str().parse(), Ok(role));
        }
    }
}
