//! `tarn tank add`.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::{TankAdded, TankPlumbed};
use tarn_domain::rooms::water::volume;
use tarn_domain::streams::{EntityKind, TankId};

use crate::clock;
use crate::commands::arguments::{When, name, optional, tank_volume};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Records a tank.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn tank add A1 --stand left --shelf 1 --place 3 --volume 54l\n  \
    tarn tank add A2 --volume \"20 gal\" --system \"Left rack\"\n  \
    tarn tank add Q1 --volume \"100 x 40 x 50 cm, glass 10 mm\" --displacement 0l")]
pub struct Add {
    /// What is written on it
    name: String,
    /// The stand it is on
    #[arg(long)]
    stand: Option<String>,
    /// The shelf of the stand
    #[arg(long)]
    shelf: Option<String>,
    /// The place on the shelf
    #[arg(long)]
    place: Option<String>,
    /// How much it holds, as 54l, 750ml or "20 gal" (US); or its measures inside, as "60 x 30 x 36 cm"
    #[arg(long)]
    volume: Option<String>,
    /// What sand, stones, wood and gear take up in it; 0l if it is bare
    #[arg(long, value_name = "VOLUME")]
    displacement: Option<String>,
    /// The water system it is on; without one its water is its own
    #[arg(long)]
    system: Option<String>,
    #[command(flatten)]
    when: When,
}

impl Add {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let name = name(&self.name)?;
        let all = tarn.store.named(&room, EntityKind::Tank)?;
        if all.iter().any(|t| t.name.as_ref().is_some_and(|n| n.to_lowercase() == name.to_lowercase())) {
            return Err(Failure::refused(format!("there is a tank {name:?} already")));
        }
        let system = self.system.as_deref().map(|typed| tarn.system(&room, typed)).transpose()?;
        let tank = TankId(clock::new_id());
        let volume_ml = self.volume.as_deref().map(tank_volume).transpose().map_err(Failure::wrong_use)?;
        let displacement_ml =
            self.displacement.as_deref().map(volume).transpose().map_err(Failure::wrong_use)?;
        let (stand, shelf, place) = (optional(self.stand)?, optional(self.shelf)?, optional(self.place)?);
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let added = TankAdded { tank, name: name.clone(), stand, shelf, place, volume_ml, displacement_ml };
        let mut ops = vec![(at, Body::TankAdded(added))];
        if system.is_some() {
            ops.push((at, Body::TankPlumbed(TankPlumbed { tank, system })));
        }
        let recorded = tarn.record_all(&room, ops)?;
        tarn.tell(recorded[0], &format!("Added the tank {name}."), &[("tank", json!(tank))])
    }
}
