//! `tarn quarantine let-pass`: a health steward lets something pass, in writing, before the sign-off.

use clap::Args;
use serde_json::json;

use super::sign_off::{Waived, find_unit};
use crate::clock;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Lets pass what is in the way of a unit. Each needs a reason, which stands in the room\u{2019}s records.
#[derive(Debug, Args)]
#[command(
    before_help = "Example:\n  tarn quarantine let-pass 3f2a91c4 recorded-late/0190…=\"the keeper was in hospital\""
)]
pub struct LetPass {
    /// Which unit: its id, or the beginning or end of it
    unit: String,
    /// What, as the unit names it, and why
    #[arg(required = true, value_name = "KEY=WHY")]
    what: Vec<Waived>,
}

impl LetPass {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let (room, _, unit) = find_unit(&mut remote, &self.unit)?;
        let waivers: Vec<_> = self.what.iter().map(Waived::json).collect();
        let body = json!({ "id": clock::new_id(), "room": room, "waivers": waivers });
        let answer = remote.post(&format!("quarantine/units/{unit}/waivers"), &body)?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        tarn.out.say("It stands. It is no sign-off: that comes when the days are done.");
        Ok(())
    }
}
