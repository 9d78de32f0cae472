//! `tarn system join`: two systems share their water while a valve between them is open.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::SystemJoined;
use tarn_domain::streams::EntityKind;

use crate::commands::arguments::When;
use crate::commands::quarantine;
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Says that a system shares another\u{2019}s water from now on, or has its own again.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn system join \"Left rack\" \"Right rack\"\n  tarn system join \"Left rack\" --apart"
)]
pub struct Join {
    /// Which system
    system: String,
    /// With which other
    #[arg(required_unless_present = "apart", conflicts_with = "apart")]
    with: Option<String>,
    /// Its water is its own again
    #[arg(long)]
    apart: bool,
    #[command(flatten)]
    when: When,
}

impl Join {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let system = tarn.system(&room, &self.system)?;
        let with = self.with.as_deref().map(|typed| tarn.system(&room, typed)).transpose()?;
        if with == Some(system) {
            return Err(Failure::wrong_use("a system always shares its own water"));
        }
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let before = quarantine::held(tarn, &room)?;
        let recorded = tarn.record(&room, at, Body::SystemJoined(SystemJoined { system, with }))?;
        quarantine::tell_breach(tarn, &room, &before)?;
        let names = tarn.names(&room, &[EntityKind::System])?;
        let says = match with {
            Some(other) => {
                format!("{} shares the water of {} from now on.", names.of(system), names.of(other))
            }
            None => format!("{} has its own water again.", names.of(system)),
        };
        tarn.tell(recorded, &says, &[("system", json!(system)), ("with", json!(with))])
    }
}
