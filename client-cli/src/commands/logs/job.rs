//! `tarn job done`.

use clap::Args;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::JobDone;
use tarn_domain::rooms::water::volume;

use crate::commands::arguments::{WaterOf, When, name};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Records work on a tank or a water system.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn job done \"water change\" --system \"Left rack\" --percent 30\n  \
    tarn job done \"filter rinsed\" --tank A1",
    after_help = "Mains off before hands go in. Let no water, plants or eggs get into nature."
)]
pub struct Done {
    /// What was done
    job: String,
    #[command(flatten)]
    of: WaterOf,
    /// For a water change: how much
    #[arg(long)]
    volume: Option<String>,
    /// For a water change: which share of the water
    #[arg(long, value_parser = clap::value_parser!(u8).range(1..=100))]
    percent: Option<u8>,
    #[command(flatten)]
    when: When,
}

impl Done {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (system, tank) = self.of.find(tarn, &room)?;
        let volume_ml = self.volume.as_deref().map(volume).transpose().map_err(Failure::wrong_use)?;
        let body = JobDone { system, tank, job: name(&self.job)?, volume_ml, percent: self.percent };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::JobDone(body))?;
        tarn.tell(recorded, "Recorded.", &[])
    }
}
