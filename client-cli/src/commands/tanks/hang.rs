//! `tarn tank hang`: a box that hangs in a tank has that tank's water.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::TankHung;
use tarn_domain::streams::EntityKind;

use crate::commands::arguments::When;
use crate::commands::quarantine;
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Says in which tank a box hangs, or that it was taken out.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn tank hang \"Box 1\" A1\n  tarn tank hang \"Box 1\" --out")]
pub struct Hang {
    /// The box
    tank: String,
    /// In which tank
    #[arg(required_unless_present = "out", conflicts_with = "out")]
    within: Option<String>,
    /// Taken out: its water is its own
    #[arg(long)]
    out: bool,
    #[command(flatten)]
    when: When,
}

impl Hang {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let tank = tarn.tank(&room, &self.tank)?;
        let within = self.within.as_deref().map(|typed| tarn.tank(&room, typed)).transpose()?;
        if within == Some(tank) {
            return Err(Failure::wrong_use("a box can\u{2019}t hang in itself"));
        }
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let before = quarantine::held(tarn, &room)?;
        let recorded = tarn.record(&room, at, Body::TankHung(TankHung { tank, within }))?;
        quarantine::tell_breach(tarn, &room, &before)?;
        let names = tarn.names(&room, &[EntityKind::Tank])?;
        let says = match within {
            Some(host) => format!("{} hangs in {} and has its water.", names.of(tank), names.of(host)),
            None => format!("{} was taken out; its water is its own.", names.of(tank)),
        };
        tarn.tell(recorded, &says, &[("tank", json!(tank)), ("within", json!(within))])
    }
}
