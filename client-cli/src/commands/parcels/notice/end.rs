//! `tarn notice end`.

use clap::Args;
use serde_json::json;

use super::own;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Takes a notice of yours off the board: the fish have gone to a keeper, or you think otherwise.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn notice end 3f2a91c4 --done\n  tarn notice end 3f2a91c4")]
pub struct End {
    /// Which notice: its id, or the beginning or end of it
    notice: String,
    /// The fish have gone to a keeper, or were found
    #[arg(long)]
    done: bool,
}

impl End {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let id = own(&mut remote, &self.notice)?;
        let how = if self.done { "done" } else { "taken_down" };
        let answer = remote.post(&format!("notices/{id}/end"), &json!({ "how": how }))?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        tarn.out.say("It is off the board.");
        Ok(())
    }
}
