//! `tarn stock merge`.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::StockMerged;
use tarn_domain::rooms::{Count, Row, StockState};

use crate::commands::arguments::{OfBrood, When, numbers, taken};
use crate::commands::quarantine;
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Puts a stock, or some of it, together with another.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn stock merge \"Blue trio\" \"Blue guppies\"\n  \
    tarn stock merge \"Blue trio\" \"Blue guppies\" 2 f")]
pub struct Merge {
    /// From which stock
    stock: String,
    /// Into which stock
    into: String,
    /// How many go over, if not all
    #[arg(num_args = 0.., value_name = "NUMBERS")]
    numbers: Vec<String>,
    #[command(flatten)]
    of: OfBrood,
    #[command(flatten)]
    when: When,
}

impl Merge {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (stock, state) = tarn.stock(&room, &self.stock)?;
        let (into, _) = tarn.stock(&room, &self.into)?;
        if stock == into {
            return Err(Failure::wrong_use("a stock can't be put together with itself"));
        }
        let rows = match self.numbers.is_empty() {
            true => all_rows(&state)?,
            false => taken(tarn, &room, &state, &numbers(&self.numbers)?, &self.of)?,
        };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let before = quarantine::held(tarn, &room)?;
        let recorded = tarn.record(&room, at, Body::StockMerged(StockMerged { stock, into, rows }))?;
        quarantine::tell_breach(tarn, &room, &before)?;
        let now = tarn.stock_state(&room, into)?;
        let called = now.name.clone().unwrap_or_default();
        tarn.tell(
            recorded,
            &format!("{called}: {}.", now.numbers.spread()),
            &[("stock", json!(stock)), ("into", json!(into))],
        )
    }
}

/// Every row of a stock as it stands; one with a debt of fish not told apart has to be said.
fn all_rows(stock: &StockState) -> Outcome<Vec<Row>> {
    let mut rows = Vec::new();
    for ((node, sex), n) in stock.numbers.rows() {
        let n = u32::try_from(n).ok().and_then(Count::of).ok_or_else(|| {
            Failure::refused("the records don't say how many of each are left")
                .hint("Count them first, or say how many go over.")
        })?;
        rows.push(Row { node, sex, n, about: false });
    }
    if rows.is_empty() {
        return Err(Failure::refused("by the records there are none left in it"));
    }
    Ok(rows)
}
