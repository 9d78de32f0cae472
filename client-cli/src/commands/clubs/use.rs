//! `tarn club use`: whose quarantine rule holds in the room.

use clap::Args;
use serde_json::{Value, json};

use super::list::club_id;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Makes a club the home club of the room: its quarantine rule holds there from now on, its stewards sign.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn club use \"Lakeside\"\n  tarn club use --none")]
pub struct Use {
    /// Which club, if you are in several
    club: Option<String>,
    /// No home club any more
    #[arg(long, conflicts_with = "club")]
    none: bool,
}

impl Use {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let mut remote = session::open(tarn)?;
        let club = match self.none {
            true => Value::Null,
            false => json!(club_id(&mut remote, self.club.as_deref())?),
        };
        let answer = remote.put(&format!("rooms/{}/home-club", room.id), &json!({ "club": club }))?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        tarn.out.say("Done. tarn sync brings the club's rule.");
        Ok(())
    }
}
