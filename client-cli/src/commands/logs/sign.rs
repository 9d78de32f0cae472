//! `tarn sign seen`.

use clap::Args;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::SignSeen;

use super::about::FishOf;
use crate::commands::arguments::{When, name};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Records a sign that something is wrong.
#[derive(Debug, Args)]
#[command(
    before_help = "Example:\n  tarn sign seen \"white spots on the fins\" --stock Blue",
    after_help = "Label, veterinarian and local law come first. A notifiable disease goes to the authority before \
    anyone, and neither fish nor water is moved."
)]
pub struct Seen {
    /// What was seen
    sign: String,
    #[command(flatten)]
    of: FishOf,
    /// When it was last seen, if not at --at
    #[arg(long, value_name = "TIME")]
    last_seen: Option<String>,
    #[command(flatten)]
    when: When,
}

impl Seen {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (stock, tank) = self.of.find(tarn, &room)?;
        if stock.is_none() && tank.is_none() {
            return Err(Failure::wrong_use("say where it was seen").hint("--stock STOCK or --tank TANK"));
        }
        let last_seen = tarn.at(&room, self.last_seen.as_deref())?;
        let body = SignSeen { stock, tank, sign: name(&self.sign)?, last_seen };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::SignSeen(body))?;
        tarn.tell(recorded, "Recorded. If it may be a disease, ask a veterinarian before treating.", &[])
    }
}
