//! `tarn notice again`.

use clap::Args;
use serde_json::json;

use super::own;
use crate::commands::parcels::online::text;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Puts a notice of yours that is over up again.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn notice again 3f2a91c4")]
pub struct Again {
    /// Which notice: its id, or the beginning or end of it
    notice: String,
}

impl Again {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let id = own(&mut remote, &self.notice)?;
        let answer = remote.post(&format!("notices/{id}/again"), &json!({}))?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        tarn.out.say(&format!("The notice stands until {}.", text(&answer, "ends_at")));
        Ok(())
    }
}
