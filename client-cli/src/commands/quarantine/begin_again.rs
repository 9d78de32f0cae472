//! `tarn quarantine begin-again`: the keeper begins the days again, where nobody looked for too long.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::QuarantineRestarted;

use super::standing;
use crate::commands::arguments::name;
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Begins the days of the unit again that a stock is in: at the end of its last gap, or when you say.
#[derive(Debug, Args)]
#[command(
    before_help = "Example:\n  tarn quarantine begin-again \"Blue\" --why \"nobody looked while I was ill\""
)]
pub struct BeginAgain {
    /// Any stock of the unit
    stock: String,
    /// Why
    #[arg(long)]
    why: String,
    /// From when, if not at the end of the last gap
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
}

impl BeginAgain {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (stock, _) = tarn.stock(&room, &self.stock)?;
        let all = standing(tarn, &room)?;
        let at =
            all.unit_of(stock).ok_or_else(|| Failure::refused(format!("{} is in no unit", self.stock)))?;
        let typed = tarn.at(&room, self.from.as_deref())?;
        let gap = all.units()[at].gaps.iter().map(|gap| gap.until).max();
        let from = typed.or(gap).ok_or_else(|| {
            Failure::refused("there is no gap between looks to begin again from").hint("--from TIME")
        })?;
        let body = QuarantineRestarted { stock, from, why: name(&self.why)? };
        let recorded = tarn.record(&room, None, Body::QuarantineRestarted(body))?;
        let due = from.plus(all.units()[at].days);
        let zone = tarn.zone(&room);
        let says = format!("The days begin again {}; not before {}.", zone.show(from), zone.show(due));
        tarn.tell(recorded, &says, &[("stock", json!(stock)), ("from", json!(from))])
    }
}
