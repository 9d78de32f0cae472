//! `tarn line group join`.

use clap::Args;
use serde_json::json;

use super::{name, one, text};
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Joins a line group you were asked into: its members see your broods of this line, as you see theirs.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn line group join Campo")]
pub struct Join {
    /// Which group, if there are several: its line, species or id, or the beginning of one
    which: Option<String>,
}

impl Join {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let group = one(&mut remote, self.which.as_deref())?;
        remote.put(&format!("line-groups/{}/membership", text(&group, "id")), &json!({}))?;
        tarn.out.say(&format!("You keep {} together from now on.", name(&group)));
        Ok(())
    }
}
