//! Logs as the quarantine clock reads them, and those of a room in the order in which they count.

use crate::catalogue::Body;
use crate::quarantine::Evidence;
use crate::streams::{At, OpId, Order};

/// What an entry tells the clock; none if it is none that it reads.
pub fn evidence(op: OpId, at: At, body: &Body) -> Option<Evidence> {
    let at = told_at(at, body)?;
    match body {
        Body::SignSeen(b) => Some(Evidence::Sign { op, at, stock: b.stock, tank: b.tank }),
        Body::LookDone(b) => Some(Evidence::Look { at, tanks: b.tanks.clone() }),
        Body::QuarantineRestarted(b) => Some(Evidence::Restart { op, at, stock: b.stock }),
        _ => None,
    }
}

/// The instant of which an entry tells the clock; none if it is none that it reads.
pub(super) fn told_at(at: At, body: &Body) -> Option<At> {
    match body {
        Body::SignSeen(b) => Some(b.last_seen.map_or(at, |seen| seen.min(at))),
        Body::LookDone(_) => Some(at),
        Body::QuarantineRestarted(b) => Some(b.from.min(at)),
        _ => None,
    }
}

/// The logs of a room that the clock reads, each with its place among the entries.
#[derive(Debug, Default)]
pub(super) struct Told {
    all: Vec<(Order, usize, Evidence)>,
    unsorted: bool,
}

impl Told {
    /// Takes one in; they are in order again after [`Told::sort`].
    pub fn add(&mut self, order: Order, place: usize, evidence: Evidence) {
        self.unsorted |= self.all.last().is_some_and(|(last, ..)| *last > order);
        self.all.push((order, place, evidence));
    }

    /// Puts them in order: which of two of one instant is named as the cause must not hang on the order of arrival.
    pub fn sort(&mut self) {
        if std::mem::take(&mut self.unsorted) {
            // few are out of place, which this sort is quick with
            self.all.sort_by_key(|(order, ..)| *order);
        }
    }

    /// All, with their places.
    pub fn iter(&self) -> impl Iterator<Item = (usize, &Evidence)> {
        self.all.iter().map(|(_, place, evidence)| (*place, evidence))
    }
}
