//! A stored op, as the rest of the area uses it.

use tarn_domain::streams::{Acceptance, By, OpDigest, OpText, Received};

use crate::entities::ops;

/// A stored op.
#[derive(Debug, Clone)]
pub struct Stored {
    /// Its number.
    pub seq: u64,
    /// Its canonical text.
    pub text: String,
    /// If words in it were blanked: the digest of its first bytes.
    pub was: Option<OpDigest>,
    /// By whom and when it was accepted.
    pub accepted: Acceptance,
}

impl Stored {
    /// Its text as chains and receipts take it.
    pub fn op_text(&self) -> OpText<'_> {
        OpText { text: &self.text, was: self.was }
    }
}

impl From<ops::Model> for Stored {
    fn from(row: ops::Model) -> Self {
        Self {
            seq: row.seq.unsigned_abs(),
            text: row.body,
            was: row.was.as_deref().and_then(OpDigest::of_bytes),
            accepted: Acceptance {
                by: By::of(row.by_account),
                received: Received(row.received),
                decision: row.decision,
            },
        }
    }
}
