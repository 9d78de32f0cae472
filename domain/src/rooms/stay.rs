//! Where a stock was when: one tank at a time, or in the bag. Intervals are half-open.

use serde::{Deserialize, Serialize};

use crate::streams::{At, OpId, TankId};

/// Where fish can be: in a tank, or in the bag.
pub type Place = Option<TankId>;

/// A stock in a tank (or in the bag) from then to then.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stay {
    /// The tank; none: in the bag.
    pub tank: Place,
    /// From when.
    pub from: At,
    /// Until when; none: still.
    pub until: Option<At>,
    /// The entry that began it, or from which it is inferred.
    pub by: OpId,
    /// Only inferred, from a move out of a tank where the records did not have it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub doubtful: bool,
    /// The fish were put there on purpose, as test companions of those in quarantine.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub companion: bool,
}

/// The stays of one stock while they are folded.
#[derive(Debug, Clone, Default)]
pub(super) struct Stays {
    /// All of them; the open one, if any, is `open`.
    all: Vec<Stay>,
    open: Option<usize>,
    /// Where it would swim if any were left.
    place: Option<Place>,
    begun: Option<At>,
    /// The next stay is that of a test companion.
    companion: bool,
}

impl Stays {
    /// The stock begins here.
    pub fn begin(&mut self, place: Place, at: At) {
        self.begun = Some(at);
        self.place = Some(place);
    }

    /// Opens or ends the stay as there are fish or none.
    pub fn swim(&mut self, any: bool, at: At, by: OpId) {
        match (self.open, any, self.place) {
            (None, true, Some(tank)) => {
                self.open = Some(self.all.len());
                let companion = std::mem::take(&mut self.companion);
                self.all.push(Stay { tank, from: at, until: None, by, doubtful: false, companion });
            }
            (Some(open), false, _) => {
                self.all[open].until = Some(at);
                self.open = None;
            }
            _ => {}
        }
    }

    /// Moves it. Returns whether the records had it where the writer took it from.
    pub fn go(&mut self, (from, to): (Place, Place), companion: bool, at: At, by: OpId) -> bool {
        let agreed = self.place == Some(from);
        if !agreed && let Some(begun) = self.begun {
            let since =
                self.all.iter().filter(|s| s.tank == from && !s.doubtful).filter_map(|s| s.until).max();
            let from_when = since.unwrap_or(begun).min(at);
            self.all.push(Stay {
                tank: from,
                from: from_when,
                until: Some(at),
                by,
                doubtful: true,
                companion: false,
            });
        }
        let swam = self.open.is_some();
        if self.place != Some(to) || !agreed {
            self.swim(false, at, by);
            self.place = Some(to);
            self.companion = companion;
            self.swim(swam, at, by);
        }
        agreed
    }

    /// All stays, in order of time.
    pub fn finish(mut self) -> Vec<Stay> {
        self.all.sort_by_key(|s| (s.from, s.until.is_none(), s.until, s.doubtful, s.tank));
        self.all
    }
}
