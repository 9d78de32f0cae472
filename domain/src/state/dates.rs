//! When each entry of a room counts, and when it was received: side by side, so that those that came late are found
//! in a long record without going through the entries themselves. Must not judge.

use super::evidence::told_at;
use super::memory::Entry;
use crate::catalogue::Body;
use crate::streams::{At, Received};

/// Later than every push.
pub(super) const NEVER: Received = Received(i64::MAX);

/// The dates of one entry.
#[derive(Debug, Clone, Copy)]
pub(super) struct Dates {
    /// When it says that it happened.
    pub at: At,
    /// When it counts: a sign when it was last seen.
    pub counts_at: At,
    /// When it was received; later than everything, if it was not yet.
    pub received: Received,
}

impl Dates {
    /// Of an entry.
    pub fn of(entry: &Entry) -> Self {
        let at = entry.linked.order.at;
        let sign = entry.body.as_deref().filter(|body| matches!(body, Body::SignSeen(_)));
        let counts_at = sign.and_then(|body| told_at(at, body)).unwrap_or(at);
        let received = entry.accepted.map_or(NEVER, |accepted| accepted.received);
        Self { at, counts_at, received }
    }

    /// How long it took to come, in seconds; up to now, if it did not yet.
    pub fn took(&self, now: At) -> i64 {
        let came = if self.received == NEVER { now.seconds() } else { self.received.0.div_euclid(1000) };
        came - self.at.seconds()
    }
}
