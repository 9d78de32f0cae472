//! `tarn line group leave`.

use clap::Args;

use super::{name, one, text};
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Leaves a line group, or says no to one. With its last member the group ends.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn line group leave Campo")]
pub struct Leave {
    /// Which group: its line, species or id, or the beginning of one
    which: String,
}

impl Leave {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let group = one(&mut remote, Some(&self.which))?;
        remote.delete(&format!("line-groups/{}/membership", text(&group, "id")))?;
        tarn.out.say(&format!("You have left {}.", name(&group)));
        Ok(())
    }
}
