//! `tarn treatment begin` and `end`: a treatment of a water. The program proposes neither a medicine nor a dose.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::{TreatmentBegan, TreatmentEnded};
use tarn_domain::rooms::words::TreatedWith;
use tarn_domain::state::EntityState;
use tarn_domain::streams::{EntityKind, TreatmentId};

use crate::clock;
use crate::commands::arguments::WaterOf;
use crate::commands::arguments::{When, name, optional};
use crate::failure::{Failure, Outcome};
use crate::find::{is_part_of_id, short};
use crate::tarn::Tarn;

/// Records that a water is treated from now on. While it is, the days of a unit in it don\u{2019}t run; they begin again at
/// its end. Egg care, salt for brackish fish, leaves and conditioner are jobs, no treatments.
#[derive(Debug, Args)]
#[command(
    before_help = "Example:\n  tarn treatment begin \"by the label of the bottle\" --tank Q1 --with medicine --by \"our vet\"",
    after_help = "Label, veterinarian and local law decide. Snails, shrimp and scaleless fish bear many medicines badly; \
    carbon and UV take them out; they need air; never two together."
)]
pub struct Begin {
    /// What the label calls it, and how much by the label
    what: String,
    #[command(flatten)]
    of: WaterOf,
    /// With what: medicine, salt, heat, bath, other
    #[arg(long, value_name = "WORD")]
    with: TreatedWith,
    /// On whose word: a veterinarian, the label
    #[arg(long)]
    by: Option<String>,
    /// When it is to end, by the label or the veterinarian: the server tells you a day before. It runs until you end it
    #[arg(long, value_name = "TIME")]
    to_end: Option<String>,
    #[command(flatten)]
    when: When,
}

impl Begin {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (system, tank) = self.of.find(tarn, &room)?;
        if system.is_none() && tank.is_none() {
            return Err(
                Failure::wrong_use("say which water is treated").hint("--tank TANK or --system SYSTEM")
            );
        }
        let treatment = TreatmentId(clock::new_id());
        let (what, by) = (name(&self.what)?, optional(self.by)?);
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let to_end = tarn.at_any_time(&room, self.to_end.as_deref())?;
        let begun = at.map_or_else(|| tarn.now(), Ok)?;
        if to_end.is_some_and(|end| end < begun) {
            return Err(Failure::wrong_use("it can\u{2019}t be to end before it begins"));
        }
        let body = TreatmentBegan { treatment, system, tank, with: self.with, what, by, to_end };
        let recorded = tarn.record(&room, at, Body::TreatmentBegan(body))?;
        let says = format!("Recorded as {}. End it with: tarn treatment end {0}", short(treatment.0));
        tarn.tell(recorded, &says, &[("treatment", json!(treatment))])
    }
}

/// Records that a treatment is over and what was put in is out of the water. The days begin again.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn treatment end 3f2a91c4")]
pub struct End {
    /// Which, if several run: its id, or the beginning or end of it
    treatment: Option<String>,
    #[command(flatten)]
    when: When,
}

impl End {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let typed = self.treatment.unwrap_or_default().trim().to_lowercase();
        let running: Vec<TreatmentId> = tarn
            .store
            .states(&room, &[EntityKind::Treatment])?
            .into_iter()
            .filter_map(|(thing, state)| match state {
                EntityState::Treatment(state) if state.made.is_some() && state.until.is_none() => {
                    Some(TreatmentId(thing.id))
                }
                _ => None,
            })
            .filter(|id| typed.is_empty() || is_part_of_id(&typed, id.0))
            .collect();
        let treatment = match running[..] {
            [one] => one,
            [] => return Err(Failure::refused("no such treatment runs")),
            _ => {
                let all: Vec<String> = running.iter().map(|id| short(id.0)).collect();
                return Err(
                    Failure::wrong_use("several treatments run").hint(format!("one of {}", all.join(", ")))
                );
            }
        };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::TreatmentEnded(TreatmentEnded { treatment }))?;
        tarn.tell(recorded, "Recorded. The days of a unit in that water begin again.", &[])
    }
}
