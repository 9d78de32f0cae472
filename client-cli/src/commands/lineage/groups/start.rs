//! `tarn line group start`.

use clap::Args;
use serde_json::json;

use super::name;
use crate::clock;
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Begins a line group, with you as its first member.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn line group start --species \"Poecilia wingei\" --line Campo")]
pub struct Start {
    /// The species, as your broods have it
    #[arg(long)]
    species: String,
    /// The line, as your broods have it
    #[arg(long)]
    line: String,
}

impl Start {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let id = clock::new_id();
        let mut remote = session::open(tarn)?;
        let body = json!({ "id": id, "species": self.species, "line": self.line });
        let group = remote.post("line-groups", &body)?;
        if tarn.out.is_json() {
            return tarn.out.data(&group);
        }
        tarn.out.say(&format!("{} is begun. Ask others in: tarn line group invite LOGIN", name(&group)));
        Ok(())
    }
}
