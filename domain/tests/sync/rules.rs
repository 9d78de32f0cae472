//! The rules as they are, and the ways in which they were wrong once: a test that can't tell them apart tests nothing.

use tarn_domain::streams::{Acceptance, AccountId, Chain, Received};
use uuid::Uuid;

/// Which rules hold.
#[derive(Clone, Copy)]
pub struct Rules {
    /// Wrong: the server sets back a clock that runs ahead, instead of refusing the push and letting the client
    /// mend all that it still holds.
    pub server_mends: bool,
    /// Ops come back with their receipt. Wrong without: only their writer may push them, and a client forgets what
    /// others wrote when the history changes.
    pub receipts: bool,
    /// An op is accepted when a pull brings it. Wrong without: when a push was answered.
    pub pull_accepts: bool,
    /// Mended clocks begin after every clock that the client holds. Wrong without: at the server's wall clock.
    pub mends_upward: bool,
    /// The chain covers by whom and when an op was accepted. Wrong without: its text alone.
    pub chains_acceptance: bool,
}

impl Rules {
    /// The chain with one more op.
    pub fn chain(self, chain: Chain, op: &str, accepted: Acceptance) -> Chain {
        let nobody = Acceptance { by: AccountId(Uuid::nil()).into(), received: Received(0), decision: false };
        chain.then(op, if self.chains_acceptance { accepted } else { nobody })
    }

    /// The rules.
    pub const DESIGN: Self = Self {
        server_mends: false,
        receipts: true,
        pull_accepts: true,
        mends_upward: true,
        chains_acceptance: true,
    };
}
