//! `tarn water read`.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::WaterRead;
use tarn_domain::rooms::water::reading;
use tarn_domain::rooms::words::Measure;

use crate::commands::arguments::{WaterOf, When};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;
use crate::wording;

/// Records measured values. What was typed is kept with its unit, and converted.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn water read --tank A1 temperature=25.5C ph=7.2\n  \
    tarn water read --system \"Left rack\" gh=\"10 dH\" nitrate=\"20 mg/l\" ammonia=\"0.25 mg/l NH3\"",
    after_help = "Measures: temperature, ph, ammonia, nitrite, nitrate, gh, kh, conductivity, salinity."
)]
pub struct Read {
    #[command(flatten)]
    of: WaterOf,
    /// What was measured, as temperature=25.5C
    #[arg(required = true, value_name = "MEASURE=VALUE")]
    values: Vec<String>,
    #[command(flatten)]
    when: When,
}

impl Read {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (system, tank) = self.of.find(tarn, &room)?;
        if system.is_none() && tank.is_none() {
            return Err(
                Failure::wrong_use("say where it was measured").hint("--tank TANK or --system SYSTEM")
            );
        }
        let mut values = Vec::with_capacity(self.values.len());
        for typed in &self.values {
            let (what, value) = typed.split_once('=').ok_or_else(|| {
                Failure::wrong_use(format!("{typed:?} is no measured value; write it like ph=7.2"))
            })?;
            let what: Measure = what.trim().to_lowercase().parse().map_err(Failure::wrong_use)?;
            values.push(reading(what, value).map_err(Failure::wrong_use)?);
        }
        let says = values.iter().map(wording::reading).collect::<Vec<_>>().join(", ");
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let told = json!(values);
        let recorded = tarn.record(&room, at, Body::WaterRead(WaterRead { system, tank, values }))?;
        tarn.tell(recorded, &format!("Recorded: {says}."), &[("values", told)])
    }
}
