//! `tarn stock count`.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::choose;
use tarn_domain::rooms::ops::StockCounted;

use crate::commands::arguments::{OfBrood, When, node, not_chosen, numbers, own_node};
use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Records what was counted. There are no others unless --some is said.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn stock count \"Blue\" 2.3.7\n  tarn stock count \"Blue\" 3 f --some"
)]
pub struct Count {
    /// Which stock
    stock: String,
    /// How many there are
    #[arg(required = true, num_args = 1.., value_name = "NUMBERS")]
    numbers: Vec<String>,
    /// Only these were counted; the others stay as recorded
    #[arg(long)]
    some: bool,
    #[command(flatten)]
    of: OfBrood,
    #[command(flatten)]
    when: When,
}

impl Count {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (stock, state) = tarn.stock(&room, &self.stock)?;
        let typed = numbers(&self.numbers)?;
        let said = node(tarn, &room, &state, &self.of)?;
        // a count of one lineage among several says nothing of the others
        let all = !self.some && (said.is_none() || choose::nodes(&state.numbers).len() < 2);
        let rows = choose::counted(&state.numbers, &typed, said, own_node(&state), all)
            .map_err(|why| not_chosen(tarn, &room, why))?;
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::StockCounted(StockCounted { stock, rows, all }))?;
        let now = tarn.stock_state(&room, stock)?;
        let correction = now.correction(recorded.id);
        let news = match correction {
            0 => "as recorded".to_owned(),
            n if n < 0 => format!("{} fewer than recorded", -n),
            n => format!("{n} more than recorded"),
        };
        let says = format!("Counted: {}, {news}.", now.numbers.spread());
        tarn.tell(recorded, &says, &[("stock", json!(stock)), ("correction", json!(correction))])
    }
}
