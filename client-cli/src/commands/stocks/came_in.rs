//! `tarn stock came-in`: fish from outside without a parcel. Their quarantine follows by itself.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::Node;
use tarn_domain::rooms::ops::{Founders, StockCameIn};
use tarn_domain::rooms::words::{CameFrom, Origin, Related};
use tarn_domain::streams::{NodeId, StockId};

use crate::clock;
use crate::commands::arguments::{Collected, What, When, name, numbers, optional};
use crate::commands::quarantine;
use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Records fish that came in from a shop, a person, the wild or a show. They go on the quarantine clock when they go
/// into water.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn stock came-in \"Shop danios\" 12 --from shop --source \"Corner shop\" --tank Q1\n  \
    tarn stock came-in Barbs 2 m 4 f --from person --species \"Pethia conchonius\""
)]
pub struct CameIn {
    /// What the stock is called
    name: String,
    /// How many: 2.3.10 (males.females.unsexed), 2 m 3 f, about 40, 26 eggs
    #[arg(required = true, num_args = 1.., value_name = "NUMBERS")]
    numbers: Vec<String>,
    /// From whom: shop, person, wild, show, other
    #[arg(long, value_name = "WORD")]
    from: CameFrom,
    /// The shop's or person's name (you and a steward see it)
    #[arg(long)]
    source: Option<String>,
    /// The tank they went into; without one they are still in the bag
    #[arg(long)]
    tank: Option<String>,
    #[command(flatten)]
    what: What,
    /// Whether they were caught or bred: wild, bought, unknown [default: by --from]
    #[arg(long)]
    origin: Option<Origin>,
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

impl CameIn {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let called = name(&self.name)?;
        let by_source = match self.from {
            CameFrom::Wild => Origin::Wild,
            CameFrom::Shop | CameFrom::Person => Origin::Bought,
            CameFrom::Show | CameFrom::Other => Origin::Unknown,
        };
        let founders = Founders {
            node: NodeId(clock::new_id()),
            origin: self.origin.unwrap_or(by_source),
            related: self.related,
            locality: optional(self.locality)?,
            collected: self.collected.map(|day| day.0),
        };
        let stock = StockId(clock::new_id());
        let body = StockCameIn {
            stock,
            from: self.from,
            source: optional(self.source)?,
            name: Some(called.clone()),
            keeping: self.what.keeping,
            species: optional(self.what.species)?,
            form: optional(self.what.form)?,
            rows: numbers(&self.numbers)?.rows(Node::Of(founders.node)),
            founders,
            tank: self.tank.as_deref().map(|typed| tarn.tank(&room, typed)).transpose()?,
        };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let before = quarantine::held(tarn, &room)?;
        let recorded = tarn.record(&room, at, Body::StockCameIn(body))?;
        let spread = tarn.stock_state(&room, stock)?.numbers.spread();
        quarantine::tell_breach(tarn, &room, &before)?;
        tarn.tell(recorded, &format!("{called} came in: {spread}."), &[("stock", json!(stock))])
    }
}
