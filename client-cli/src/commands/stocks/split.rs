//! `tarn stock split`.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::StockSplit;
use tarn_domain::streams::StockId;

use crate::clock;
use crate::commands::arguments::{OfBrood, When, numbers, optional, taken};
use crate::commands::quarantine;
use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Records that some of a stock are kept apart from now on.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn stock split \"Blue\" 1 m 2 f --tank A3 --name \"Blue trio\"")]
pub struct Split {
    /// From which stock
    stock: String,
    /// How many go over
    #[arg(required = true, num_args = 1.., value_name = "NUMBERS")]
    numbers: Vec<String>,
    /// Where the new stock swims; without one in the bag
    #[arg(long)]
    tank: Option<String>,
    /// What the new stock is called
    #[arg(long)]
    name: Option<String>,
    #[command(flatten)]
    of: OfBrood,
    #[command(flatten)]
    when: When,
}

impl Split {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (stock, state) = tarn.stock(&room, &self.stock)?;
        let new = StockId(clock::new_id());
        let body = StockSplit {
            stock,
            new,
            rows: taken(tarn, &room, &state, &numbers(&self.numbers)?, &self.of)?,
            tank: self.tank.as_deref().map(|typed| tarn.tank(&room, typed)).transpose()?,
            name: optional(self.name)?.or(state.name),
        };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let before = quarantine::held(tarn, &room)?;
        let recorded = tarn.record(&room, at, Body::StockSplit(body))?;
        quarantine::tell_breach(tarn, &room, &before)?;
        let (old, split) = (tarn.stock_state(&room, stock)?, tarn.stock_state(&room, new)?);
        let says = format!("Split off {}; {} stay.", split.numbers.spread(), old.numbers.spread());
        tarn.tell(recorded, &says, &[("stock", json!(new)), ("of", json!(stock))])
    }
}
