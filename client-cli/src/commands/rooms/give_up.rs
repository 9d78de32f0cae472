//! `tarn room give-up`: the server takes the room's records out for good; this device keeps them.

use clap::Args;
use serde_json::json;

use crate::failure::Outcome;
use crate::sync::{rooms, session};
use crate::tarn::Tarn;

/// Gives the room up on the server, for good.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn export cellar-records\n  tarn room give-up \"Cellar room\"")]
pub struct GiveUp {
    /// The room's name, typed as it stands
    name: String,
}

impl GiveUp {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let mut remote = session::open(tarn)?;
        remote.post(&format!("rooms/{}/giving-up", room.id), &json!({ "name": self.name }))?;
        rooms::gone(tarn, &room)
    }
}
