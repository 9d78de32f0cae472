//! `tarn logout`.

use clap::Args;

use crate::failure::Outcome;
use crate::store::OpState;
use crate::sync::{self, session};
use crate::tarn::Tarn;

/// Ends the session. The records stay on this device.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn logout")]
pub struct Logout {}

impl Logout {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        // without a network the token is still taken off this device
        let told = remote.log_out();
        tarn.folder.keep_token_text(None)?;
        let pending = sync::standing(tarn, OpState::Pending)?;
        if pending > 0 {
            tarn.out.say(&format!("{pending} entries are only on this device; they are kept."));
        }
        if told.is_err() {
            tarn.out.say("The server could not be told; its session ends by itself.");
        }
        tarn.out.say("Logged out.");
        Ok(())
    }
}
