//! Why fish may not leave a room, and the words for it.

use std::fmt;

use crate::streams::{At, OpId};

/// Why fish may not leave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Held {
    /// Still in the bag: they may only go back to whoever gave them.
    InTheBag,
    /// In a unit; the day, if one can be told.
    Unit(Option<At>),
    /// Nobody can vouch for them before then.
    Waits(At),
    /// They would be in a unit if these late entries were left out, or these withdrawn ones put back.
    InDoubt(Vec<OpId>),
}

impl Held {
    /// The first day on which that can be over, if one can be told.
    pub fn until(&self) -> Option<At> {
        match self {
            Self::Unit(due) => *due,
            Self::Waits(until) => Some(*until),
            Self::InTheBag | Self::InDoubt(_) => None,
        }
    }
}

impl fmt::Display for Held {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::InTheBag => f.write_str(
                "this stock is still in the bag it came in, so it may only go back to whoever gave it; the days begin when it goes into water",
            ),
            Self::Unit(Some(at)) => write!(
                f,
                "this stock is in quarantine until a health steward has cleared it, not before {}",
                at.plain()
            ),
            Self::Unit(None) => f.write_str(
                "this stock is in quarantine, and no day can be told yet; the unit's page says what is in the way",
            ),
            Self::Waits(until) => write!(
                f,
                "the server has not known this stock (or as many of it) for the days of the rule; it may leave from {}",
                until.plain()
            ),
            Self::InDoubt(_) => f.write_str(
                "by entries that came late or were taken back this stock may be in quarantine; a health steward has to let them pass first",
            ),
        }
    }
}
