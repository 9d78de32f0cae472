//! `tarn parcel hand`: the bag left. The fish leave the records when the server has decided so.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::parcels::ParcelHanded;

use super::show::find_parcel;
use crate::commands::arguments::When;
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Records that the bag left, and when.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn parcel hand 3f2a91c4 --at \"yesterday 18:00\"")]
pub struct Hand {
    /// Which parcel; the only one that is packed, if left out
    parcel: Option<String>,
    #[command(flatten)]
    when: When,
}

impl Hand {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let waits = |p: &tarn_domain::parcels::ParcelState| p.packed.is_some() && p.handed.is_none();
        let (parcel, state) = find_parcel(tarn, &room, self.parcel.as_deref(), waits)?;
        if state.packed.is_none() {
            return Err(Failure::refused("it was not packed in this room"));
        }
        if state.handed.is_some() {
            return Err(Failure::refused("it is recorded as handed over already"));
        }
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::ParcelHanded(ParcelHanded { parcel }))?;
        tarn.tell(recorded, "Handed over. tarn sync tells the server.", &[("parcel", json!(parcel))])
    }
}
