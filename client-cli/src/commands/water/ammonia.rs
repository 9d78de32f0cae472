//! `tarn water ammonia`.

use clap::Args;
use serde_json::json;
use tarn_domain::rooms::water::ammonia::{SOURCE, Sample, unionised};
use tarn_domain::rooms::water::{kept_in, reading, thousandths};
use tarn_domain::rooms::words::Measure;

use super::one::{Waters, ammonia_words, newest_ammonia, values};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Reckons the un-ionised part of total ammonia by Emerson et al. 1975: of the newest reading of a water, or of values
/// that you type. For fresh water, 0 to 30 °C and pH 6 to 10; never a promise of safety.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn water ammonia \"Left rack\"\n  \
    tarn water ammonia --total \"0.5 mg/l N\" --temperature 25C --ph 7.8")]
pub struct Ammonia {
    /// Which water: a system, or a tank
    #[arg(required_unless_present = "total", conflicts_with_all = ["total", "temperature", "ph", "salinity"])]
    water: Option<String>,
    /// Total ammonia with what the kit reports, as "0.5 mg/l NH3", "… NH4" or "… N"
    #[arg(long, requires_all = ["temperature", "ph"])]
    total: Option<String>,
    /// Temperature, as 25C or 77F
    #[arg(long)]
    temperature: Option<String>,
    /// pH
    #[arg(long)]
    ph: Option<String>,
    /// Salinity, as "2 g/kg", if there is any
    #[arg(long)]
    salinity: Option<String>,
}

impl Ammonia {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        match &self.water {
            Some(typed) => of_water(tarn, typed),
            None => self.of_typed(tarn),
        }
    }

    fn of_typed(&self, tarn: &Tarn) -> Outcome {
        let read = |what, name: &str, typed: &Option<String>| {
            let value = typed.as_deref().map(|text| reading(what, text)).transpose();
            let value = value.map_err(|why| Failure::wrong_use(format!("--{name}: {why}")))?;
            Outcome::Ok(value.map(|value| value.milli))
        };
        let total = read(Measure::Ammonia, "total", &self.total)?;
        let sample = Sample {
            total: total.ok_or_else(|| Failure::wrong_use("--total: say how much"))?,
            temperature: read(Measure::Temperature, "temperature", &self.temperature)?,
            ph: read(Measure::Ph, "ph", &self.ph)?,
            salinity: read(Measure::Salinity, "salinity", &self.salinity)?,
            conductivity: None,
        };
        let found = unionised(&sample).map_err(|why| Failure::refused(format!("not reckoned: {why}")))?;
        if tarn.out.is_json() {
            return tarn.out.data(&json!({
                "total_milli": sample.total, "unionised_mg_l_nh3": found.mg_l, "fraction": found.fraction,
                "may_harm": found.may_harm(), "source": SOURCE,
            }));
        }
        tarn.out.line(&format!(
            "{found} NH3 un-ionised of {} {} in all ({:.2}\u{a0}%)",
            thousandths(sample.total),
            kept_in(Measure::Ammonia),
            found.fraction * 100.0
        ))?;
        tell_limits(tarn, found.may_harm());
        Ok(())
    }
}

fn of_water(tarn: &mut Tarn, typed: &str) -> Outcome {
    let room = tarn.room()?;
    let waters = Waters::of(tarn, &room)?;
    let which = waters.find(tarn, typed)?;
    let name = waters.name(which);
    let meaning = newest_ammonia(&values(&waters.readings(tarn, which)?)).ok_or_else(|| {
        Failure::refused(format!("no ammonia has been read in {name}"))
            .hint("tarn water read --system NAME ammonia=\"0.25 mg/l NH3\" ph=7.2 temperature=25C")
    })?;
    if tarn.out.is_json() {
        return tarn.out.data(&meaning.json());
    }
    let zone = tarn.zone(&room);
    let total = format!("{} {}", thousandths(meaning.total.milli), kept_in(Measure::Ammonia));
    tarn.out.line(&format!(
        "{name}, {}: total {total}, {}",
        zone.show(meaning.total.at),
        ammonia_words(&meaning)
    ))?;
    if !meaning.is_of_one_moment() {
        for value in [meaning.ph, meaning.temperature].into_iter().flatten() {
            let unit = if value.what == Measure::Ph { "" } else { kept_in(value.what) };
            let (what, milli) = (value.what.plain(), thousandths(value.milli));
            tarn.out.line(&format!("  with {what} {milli} {unit} of {}", zone.show(value.at)))?;
        }
    }
    if let Ok(found) = meaning.unionised {
        tell_limits(tarn, found.may_harm());
    }
    Ok(())
}

fn tell_limits(tarn: &Tarn, may_harm: bool) {
    if may_harm {
        tarn.out.say("Above 0.05 mg/L it may harm fish (UF/IFAS FA031).");
    }
    tarn.out
        .say(&format!("{SOURCE}: fresh water, 0 to 30 °C, pH 6 to 10. A low value is no promise of safety."));
}
