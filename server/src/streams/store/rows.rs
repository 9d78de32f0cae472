//! A stored op, as the rest of the area uses it.

use tarn_domain::streams::{Acceptance, By, Received};

use crate::entities::ops;

/// A stored op.
#[derive(Debug, Clone)]
pub struct Stored {
    /// Its number.
    pub seq: u64,
    /// Its canonical text.
    pub text: String,
    /// By whom and when it was accepted.
    pub accepted: Acceptance,
}

impl From<ops::Model> for Stored {
    fn from(row: ops::Model) -> Self {
        Self {
            seq: row.seq.unsigned_abs(),
            text: row.body,
            accepted: Acceptance {
                by: By::of(row.by_account),
                received: Received(row.received),
                decision: row.decision,
            },
        }
    }
}
