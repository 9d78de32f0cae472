//! `tarn tank emptied`: all the water is out, and nothing can be carried over.

use clap::Args;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::TankEmptied;
use tarn_domain::rooms::words::Emptied as How;

use crate::commands::arguments::When;
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Records that a tank, or a whole system with its sump, was emptied and dried out or disinfected. It counts where the
/// water is shared with nothing else and no fish are in it; tanks on one water are emptied together, as a system.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn tank emptied Q1 --how dried\n  tarn tank emptied --system \"Left rack\" --how disinfected",
    after_help = "Disinfectants are for empty tanks: follow the label, rinse, and keep them from fish, skin and eyes."
)]
pub struct Emptied {
    /// Which tank
    #[arg(required_unless_present = "system", conflicts_with = "system")]
    tank: Option<String>,
    /// Or which system, sump included
    #[arg(long)]
    system: Option<String>,
    /// How: dried, disinfected
    #[arg(long, value_name = "WORD")]
    how: How,
    #[command(flatten)]
    when: When,
}

impl Emptied {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let tank = self.tank.as_deref().map(|typed| tarn.tank(&room, typed)).transpose()?;
        let system = self.system.as_deref().map(|typed| tarn.system(&room, typed)).transpose()?;
        if tank.is_none() && system.is_none() {
            return Err(Failure::wrong_use("say what was emptied").hint("a tank, or --system SYSTEM"));
        }
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let body = TankEmptied { tank, system, how: self.how };
        let recorded = tarn.record(&room, at, Body::TankEmptied(body))?;
        tarn.tell(recorded, &format!("Recorded: emptied and {}.", self.how.plain()), &[])
    }
}
