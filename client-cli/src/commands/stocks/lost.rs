//! `tarn stock lost`.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::StockLost;
use tarn_domain::rooms::words::Cause;

use crate::commands::arguments::{OfBrood, When, numbers, optional, taken};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Records fish that died or vanished.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn stock lost \"Blue\" 1 m --cause jumped\n  \
    tarn stock lost Danios 3 --at \"yesterday 18:00\"",
    after_help = "If several die at once or a notifiable disease is suspected, ask a veterinarian; the law may want the \
    authority told first, and neither fish nor water moved."
)]
pub struct Lost {
    /// Of which stock
    stock: String,
    /// How many
    #[arg(required = true, num_args = 1.., value_name = "NUMBERS")]
    numbers: Vec<String>,
    /// To what: eggs_failed, jumped, fight, spawning, old_age, eaten, power_or_heater, culled, disease, unknown
    #[arg(long, default_value = "unknown", value_name = "WORD")]
    cause: Cause,
    /// In your words (culling needs one)
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,
    /// The incident that caused it: its id, or the beginning or end of it
    #[arg(long, value_name = "ID")]
    incident: Option<String>,
    #[command(flatten)]
    of: OfBrood,
    #[command(flatten)]
    when: When,
}

impl Lost {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (stock, state) = tarn.stock(&room, &self.stock)?;
        let reason = optional(self.reason)?;
        if self.cause == Cause::Culled && reason.is_none() {
            return Err(Failure::wrong_use("culling needs a reason").hint("--reason TEXT"));
        }
        let rows = taken(tarn, &room, &state, &numbers(&self.numbers)?, &self.of)?;
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let incident = match self.incident.as_deref() {
            Some(typed) => Some(super::super::logs::find_incident(tarn, &room, typed)?),
            None => None,
        };
        let body = StockLost { stock, rows, cause: self.cause, reason, incident };
        let recorded = tarn.record(&room, at, Body::StockLost(body))?;
        let now = tarn.stock_state(&room, stock)?;
        let says =
            format!("{} left in {}.", now.numbers.spread(), now.name.as_deref().unwrap_or(&self.stock));
        tarn.tell(recorded, &says, &[("stock", json!(stock))])
    }
}
