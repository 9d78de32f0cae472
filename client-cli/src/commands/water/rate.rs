//! `tarn water rate`.

use clap::Args;
use serde_json::json;
use tarn_domain::rooms::water::rate::{CAUTIONS, FOR_PEOPLE, Rate as LabelRate};
use tarn_domain::rooms::water::volumes::{litres, told_json};

use super::one::{Waters, Which, which_json};
use crate::commands::arguments::WaterOf;
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Multiplies a label's rate, as you type it, by the net volume of a water. Proposes no medicine and no amount: the
/// label, a veterinarian and local law come first. Without a known net volume nothing is multiplied.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn water rate \"5 ml per 40 l\" --system \"Left rack\"\n  \
    tarn water rate \"1 g / 10 l\" --tank Q1")]
pub struct Rate {
    /// The rate as the label has it: "5 ml per 40 l", "1 g / 10 l", "2 drops per 10 l"
    rate: String,
    #[command(flatten)]
    of: WaterOf,
}

impl Rate {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let rate: LabelRate = self.rate.parse().map_err(Failure::wrong_use)?;
        let waters = Waters::of(tarn, &room)?;
        let which = match self.of.find(tarn, &room)? {
            (Some(system), _) => Which::System(system),
            (None, Some(tank)) => waters.of_tank(tarn, tank),
            (None, None) => {
                return Err(Failure::wrong_use("say for which water").hint("--tank TANK or --system SYSTEM"));
            }
        };
        let (name, volumes) = (waters.name(which), waters.volumes(which)?);
        let amount = rate.times(&volumes.net).map_err(|missing| {
            let says = format!("the net volume of {name} is not known. {}", waters.missing(&missing));
            Failure::refused(says).hint(match which {
                Which::System(_) => "tarn system set NAME --net VOLUME if it is measured, or what is missing",
                Which::Tank(_) => "tarn tank describe TANK --volume VOLUME --displacement VOLUME",
            })
        })?;
        if tarn.out.is_json() {
            let mut told = which_json(which, &name);
            told["rate"] = json!(rate.to_string());
            told["net"] = told_json(&volumes.net);
            told["amount"] = json!(amount.to_string());
            (told["amount_milli"], told["exact"]) = (json!(amount.milli), json!(amount.exact));
            told["cautions"] = CAUTIONS.iter().chain(&FOR_PEOPLE).copied().collect();
            return tarn.out.data(&told);
        }
        let net = volumes.net.as_ref().map_or(0, |net| net.ml);
        tarn.out.line(&format!("{rate}, for {name} ({} net): {amount}", litres(net)))?;
        tarn.out.line(&format!("  net volume: {}", waters.told(&volumes.net)))?;
        for caution in CAUTIONS.iter().chain(&FOR_PEOPLE) {
            tarn.out.line(&format!("  – {caution}"))?;
        }
        Ok(())
    }
}
