//! Logs as the quarantine clock reads them.

use super::memory::Entry;
use crate::catalogue::Body;
use crate::quarantine::Evidence;
use crate::streams::{At, OpId};

/// What an entry tells the clock; none if it is none that it reads.
pub fn evidence(op: OpId, at: At, body: &Body) -> Option<Evidence> {
    match body {
        Body::SignSeen(b) => {
            let at = b.last_seen.map_or(at, |seen| seen.min(at));
            Some(Evidence::Sign { op, at, stock: b.stock, tank: b.tank })
        }
        Body::LookDone(b) => Some(Evidence::Look { at, tanks: b.tanks.clone() }),
        Body::QuarantineRestarted(b) => Some(Evidence::Restart { op, at: b.from.min(at), stock: b.stock }),
        _ => None,
    }
}

/// The same of an entry in memory.
pub(super) fn of_entry(entry: &Entry) -> Option<Evidence> {
    let order = entry.linked.order;
    evidence(order.id, order.at, entry.body.as_deref()?)
}
