//! `tarn incident seen`: a heater, a pump, the power, a leak, chlorine.

use clap::Args;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::IncidentSeen;
use tarn_domain::rooms::words::Incident as What;
use tarn_domain::streams::OpId;

use crate::commands::arguments::WaterOf;
use crate::commands::arguments::{When, optional};
use crate::failure::{Failure, Outcome};
use crate::find::is_part_of_id;
use crate::store::StreamRow;
use crate::tarn::Tarn;

/// Among how many of the latest entries an incident is looked for.
const MOST: usize = 5_000;

/// Records that something of the technology failed. Fish lost to it name it: `tarn stock lost … --incident ID`.
#[derive(Debug, Args)]
#[command(
    before_help = "Example:\n  tarn incident seen heater --system \"Left rack\" --remark \"stuck on, 33 C\"",
    after_help = "Mains off before hands go into the water."
)]
pub struct Seen {
    /// What failed: heater, pump, power, leak, chlorine, other
    what: What,
    #[command(flatten)]
    of: WaterOf,
    /// What was found, what was done
    #[arg(long)]
    remark: Option<String>,
    #[command(flatten)]
    when: When,
}

impl Seen {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (system, tank) = self.of.find(tarn, &room)?;
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let body = IncidentSeen { system, tank, what: self.what, remark: optional(self.remark)? };
        let recorded = tarn.record(&room, at, Body::IncidentSeen(body))?;
        tarn.tell(recorded, "Recorded. Mains off before hands go into the water.", &[])
    }
}

/// The entry of an incident, by its id or part of it.
pub fn find_incident(tarn: &Tarn, room: &StreamRow, typed: &str) -> Outcome<OpId> {
    let lower = typed.trim().to_lowercase();
    let lines = tarn.store.history(room, None, MOST)?;
    let found: Vec<OpId> = lines
        .iter()
        .filter(|line| line.kind == "incident.seen" && is_part_of_id(&lower, line.id.0))
        .map(|line| line.id)
        .collect();
    match found[..] {
        [one] => Ok(one),
        [] => Err(Failure::wrong_use(format!("there is no incident {typed:?}")).hint("tarn history")),
        _ => Err(Failure::wrong_use(format!("{typed:?} may be any of several incidents"))),
    }
}
