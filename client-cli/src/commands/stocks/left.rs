//! `tarn stock left`.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::StockLeft;
use tarn_domain::rooms::words::LeftFor;

use crate::commands::arguments::{OfBrood, When, numbers, taken};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Records fish that left the room without a parcel. (For another keeper's room, pack a parcel: their lineage goes
/// with them.) Never let fish or water into nature.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn stock left Danios 6 --to shop --price 900 --currency EUR")]
pub struct Left {
    /// Of which stock
    stock: String,
    /// How many
    #[arg(required = true, num_args = 1.., value_name = "NUMBERS")]
    numbers: Vec<String>,
    /// Where to: shop, person, show, other
    #[arg(long, value_name = "WORD")]
    to: LeftFor,
    /// For how much in all, in cents or the like
    #[arg(long, value_name = "MINOR", requires = "currency")]
    price: Option<i64>,
    /// The currency, as EUR
    #[arg(long, value_name = "CODE", requires = "price")]
    currency: Option<String>,
    #[command(flatten)]
    of: OfBrood,
    #[command(flatten)]
    when: When,
}

impl Left {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (stock, state) = tarn.stock(&room, &self.stock)?;
        let is_code = |code: &&String| code.len() == 3 && code.bytes().all(|b| b.is_ascii_uppercase());
        if let Some(code) = self.currency.as_ref().filter(|code| !is_code(code)) {
            return Err(Failure::wrong_use(format!("{code:?} is no currency code; write EUR, GBP, USD …")));
        }
        let rows = taken(tarn, &room, &state, &numbers(&self.numbers)?, &self.of)?;
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let body = StockLeft { stock, rows, to: self.to, price_minor: self.price, currency: self.currency };
        let recorded = tarn.record(&room, at, Body::StockLeft(body))?;
        let now = tarn.stock_state(&room, stock)?;
        let says =
            format!("{} left in {}.", now.numbers.spread(), now.name.as_deref().unwrap_or(&self.stock));
        tarn.tell(recorded, &says, &[("stock", json!(stock))])
    }
}
