//! `tarn stock add`: fish that were here before the records.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::Node;
use tarn_domain::rooms::ops::{Founders, StockEstablished};
use tarn_domain::rooms::words::{Origin, Related};
use tarn_domain::streams::{NodeId, StockId};

use crate::clock;
use crate::commands::arguments::{Collected, What, When, name, numbers, optional};
use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Records fish that were here before the records.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn stock add \"Blue guppies\" 2.3.10 --tank A1 --species \"Poecilia reticulata\"\n  \
    tarn stock add Danios about 40 --tank B2 --since 2024-05-01"
)]
pub struct Add {
    /// What the stock is called
    name: String,
    /// How many: 2.3.10 (males.females.unsexed), 2 m 3 f, about 40, 26 eggs
    #[arg(required = true, num_args = 1.., value_name = "NUMBERS")]
    numbers: Vec<String>,
    /// Where they swim; without one they are in the bag
    #[arg(long)]
    tank: Option<String>,
    #[command(flatten)]
    what: What,
    /// Since when they have been here
    #[arg(long, value_name = "TIME")]
    since: Option<String>,
    /// Where they are from: wild, bought, unknown
    #[arg(long, default_value = "unknown")]
    origin: Origin,
    /// Whether they are related: unrelated, siblings, not_known
    #[arg(long, default_value = "not_known")]
    related: Related,
    /// Where they were caught; stays with you
    #[arg(long)]
    locality: Option<String>,
    /// When they were caught: 2019, 2019-05 or a day
    #[arg(long, value_name = "DAY")]
    collected: Option<Collected>,
    #[command(flatten)]
    when: When,
}

impl Add {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let called = name(&self.name)?;
        let founders = Founders {
            node: NodeId(clock::new_id()),
            origin: self.origin,
            related: self.related,
            locality: optional(self.locality)?,
            collected: self.collected.map(|day| day.0),
        };
        let stock = StockId(clock::new_id());
        let body = StockEstablished {
            stock,
            name: Some(called.clone()),
            keeping: self.what.keeping,
            species: optional(self.what.species)?,
            form: optional(self.what.form)?,
            since: tarn.at(&room, self.since.as_deref())?,
            rows: numbers(&self.numbers)?.rows(Node::Of(founders.node)),
            founders: Some(founders),
            tank: self.tank.as_deref().map(|typed| tarn.tank(&room, typed)).transpose()?,
        };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::StockEstablished(body))?;
        let spread = tarn.stock_state(&room, stock)?.numbers.spread();
        tarn.tell(recorded, &format!("Added {called}: {spread}."), &[("stock", json!(stock))])
    }
}
