//! `tarn tank plumb`: on which water system a tank is from now on.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::TankPlumbed;
use tarn_domain::streams::EntityKind;

use crate::commands::arguments::When;
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Says on which water system a tank is, or that its water is its own. Tanks on one system share every disease.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn tank plumb A1 \"Left rack\"\n  tarn tank plumb A1 --alone")]
pub struct Plumb {
    /// Which tank
    tank: String,
    /// Onto which system
    #[arg(required_unless_present = "alone", conflicts_with = "alone")]
    system: Option<String>,
    /// Off its system: its water is its own
    #[arg(long)]
    alone: bool,
    #[command(flatten)]
    when: When,
}

impl Plumb {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let tank = tarn.tank(&room, &self.tank)?;
        let system = self.system.as_deref().map(|typed| tarn.system(&room, typed)).transpose()?;
        if tarn.tank_state(&room, tank)?.system() == system && self.when.at.is_none() {
            return Err(Failure::refused("it is recorded so already"));
        }
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let before = super::super::quarantine::held(tarn, &room)?;
        let recorded = tarn.record(&room, at, Body::TankPlumbed(TankPlumbed { tank, system }))?;
        let names = tarn.names(&room, &[EntityKind::Tank, EntityKind::System])?;
        let onto = system.map_or("on its own water".into(), |s| format!("on {}", names.of(s)));
        super::super::quarantine::tell_breach(tarn, &room, &before)?;
        let says = format!("{} is {onto} from now on.", names.of(tank));
        tarn.tell(recorded, &says, &[("tank", json!(tank)), ("system", json!(system))])
    }
}
