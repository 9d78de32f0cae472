//! `tarn swap say`.

use clap::Args;
use serde_json::json;

use super::swap_id;
use crate::clock;
use crate::commands::parcels::online::text;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Writes to the other one of a swap. It goes through the server.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn swap say 3f2a91c4 \"Saturday at the meeting?\"")]
pub struct Say {
    /// Which swap: its id, or the beginning or end of it
    swap: String,
    /// What you write
    #[arg(required = true)]
    text: Vec<String>,
}

impl Say {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let id = swap_id(&mut remote, &self.swap)?;
        let swap = remote.get(&format!("swaps/{id}"))?;
        let path = format!("threads/{}/lines", text(&swap, "thread"));
        let answer = remote.post(&path, &json!({ "id": clock::new_id(), "text": self.text.join(" ") }))?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        tarn.out.say("Sent.");
        Ok(())
    }
}
