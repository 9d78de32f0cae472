//! `tarn food given`.

use clap::Args;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::FoodGiven;

use crate::commands::arguments::{When, name, optional};
use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Records that food was given.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn food given flakes --tank A1 --tank A2\n  \
    tarn food given \"brine shrimp\" --stock Blue --amount \"a pinch\"")]
pub struct Given {
    /// What
    food: String,
    /// To which tank; may be repeated
    #[arg(long = "tank")]
    tanks: Vec<String>,
    /// To which stock; may be repeated
    #[arg(long = "stock")]
    stocks: Vec<String>,
    /// How much, in your words
    #[arg(long)]
    amount: Option<String>,
    #[command(flatten)]
    when: When,
}

impl Given {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let tanks = self.tanks.iter().map(|typed| tarn.tank(&room, typed)).collect::<Outcome<Vec<_>>>()?;
        let stocks =
            self.stocks.iter().map(|typed| Ok(tarn.stock(&room, typed)?.0)).collect::<Outcome<Vec<_>>>()?;
        let body = FoodGiven { tanks, stocks, food: name(&self.food)?, amount: optional(self.amount)? };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::FoodGiven(body))?;
        tarn.tell(recorded, "Recorded.", &[])
    }
}
