//! `tarn tank describe`.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::TankDescribed;
use tarn_domain::streams::Patch;

use crate::commands::arguments::{When, name, patch, patch_tank_volume, patch_volume};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Changes a tank's name, place or size. An empty text clears a field.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn tank describe A1 --volume 60l --place \"\"")]
pub struct Describe {
    /// Which tank
    tank: String,
    /// What is written on it
    #[arg(long)]
    name: Option<String>,
    /// The stand it is on
    #[arg(long)]
    stand: Option<String>,
    /// The shelf of the stand
    #[arg(long)]
    shelf: Option<String>,
    /// The place on the shelf
    #[arg(long)]
    place: Option<String>,
    /// How much it holds, or its measures inside, as "60 x 30 x 36 cm"
    #[arg(long)]
    volume: Option<String>,
    /// What sand, stones, wood and gear take up in it; 0l if it is bare
    #[arg(long, value_name = "VOLUME")]
    displacement: Option<String>,
    #[command(flatten)]
    when: When,
}

impl Describe {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let tank = tarn.tank(&room, &self.tank)?;
        let body = TankDescribed {
            tank,
            name: self.name.as_deref().map(name).transpose()?.map_or(Patch::Keep, Patch::Set),
            stand: patch(self.stand)?,
            shelf: patch(self.shelf)?,
            place: patch(self.place)?,
            volume_ml: patch_tank_volume(self.volume)?,
            displacement_ml: patch_volume(self.displacement)?,
        };
        let untouched = body.name.is_keep() && body.stand.is_keep() && body.shelf.is_keep();
        let same_size = body.volume_ml.is_keep() && body.displacement_ml.is_keep();
        if untouched && body.place.is_keep() && same_size {
            return Err(Failure::wrong_use("nothing to change was named").hint("tarn tank describe --help"));
        }
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::TankDescribed(body))?;
        tarn.tell(recorded, "Changed.", &[("tank", json!(tank))])
    }
}
