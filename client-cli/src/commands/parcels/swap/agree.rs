//! `tarn swap agree`.

use clap::Args;
use serde_json::json;

use super::{given, swap_id};
use crate::commands::parcels::online::text;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Agrees to a swap that was proposed to you. Both sides' fish must be free to leave.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn swap agree 3f2a91c4\n  tarn swap agree 3f2a91c4 --give \"Campo=2 m 2 f\""
)]
pub struct Agree {
    /// Which swap: its id, or the beginning or end of it
    swap: String,
    /// What you give, as STOCK=NUMBERS; else what was asked for by your notice
    #[arg(long, value_name = "STOCK=NUMBERS")]
    give: Vec<String>,
}

impl Agree {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let give = given(tarn, &self.give)?;
        let mut remote = session::open(tarn)?;
        let id = swap_id(&mut remote, &self.swap)?;
        let answer = remote.post(&format!("swaps/{id}/agree"), &json!({ "give": give }))?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        tarn.out.say(&format!(
            "You and {} have agreed. Pack your part with: tarn swap pack",
            text(&answer, "with")
        ));
        Ok(())
    }
}
