//! `tarn young found`. Parents are kept as this device sees them now: how many of which lineage could be a parent.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::lineage::{Window, YoungFound};
use tarn_domain::rooms::Node;
use tarn_domain::streams::{EntityKind, NodeId, StockId};

use super::naming::NameTyped;
use super::parents::ParentsTyped;
use super::spawn::which;
use crate::clock;
use crate::commands::arguments::{When, name, numbers};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Records young that were found: they become a brood, and a stock.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn young found BG-12 about 30 --parents \"Blue\" --tank F1\n  \
    tarn young found D-3 26 eggs --sires \"Danios\" --one-sire --dams \"Danios=1\" --born-from 2026-03-01 --born-to 2026-03-05\n  \
    tarn young found R-4 24 --there B2 --sperm-days 180 --tank B2",
    after_help = "Parents are stocks; =N narrows how many of it could be a parent, \
    =N:W gives them a weight in thousandths (all of a side, 1000 together). Without --one-sire or --one-dam the young \
    may have different parents, drawn from all."
)]
pub struct Found {
    /// Your code for the brood
    code: String,
    /// How many
    #[arg(required = true, num_args = 1.., value_name = "NUMBERS")]
    numbers: Vec<String>,
    #[command(flatten)]
    parents: ParentsTyped,
    /// Born or laid not before
    #[arg(long, value_name = "TIME", requires = "born_to")]
    born_from: Option<String>,
    /// Born or laid not after
    #[arg(long, value_name = "TIME", requires = "born_from")]
    born_to: Option<String>,
    /// Where they swim; without one in the bag
    #[arg(long)]
    tank: Option<String>,
    #[command(flatten)]
    name: NameTyped,
    #[command(flatten)]
    when: When,
}

impl Found {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (brood, stock) = (NodeId(clock::new_id()), StockId(clock::new_id()));
        let window =
            match (tarn.at(&room, self.born_from.as_deref())?, tarn.at(&room, self.born_to.as_deref())?) {
                (Some(from), Some(to)) if from > to => {
                    return Err(Failure::wrong_use("--born-from is after --born-to"));
                }
                (Some(from), Some(to)) => Some(Window { from, to }),
                _ => None,
            };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let found = at.map_or_else(|| tarn.now(), Ok)?;
        let parents = self.parents.read(tarn, &room, window.unwrap_or(Window { from: found, to: found }))?;
        let mut name_of = self.name.read()?;
        parents.fill(&mut name_of);
        let code = name(&self.code)?;
        let warning = parents.warning(&tarn.names(&room, &[EntityKind::Stock])?);
        let spawning = which::continued(tarn, &room, &parents, which::is_without_brood)?;
        let body = YoungFound {
            brood,
            spawning,
            code: code.clone(),
            name: name_of,
            window,
            sires: parents.sires,
            dams: parents.dams,
            stock,
            rows: numbers(&self.numbers)?.rows(Node::Of(brood)),
            tank: self.tank.as_deref().map(|typed| tarn.tank(&room, typed)).transpose()?,
        };
        let recorded = tarn.record(&room, at, Body::YoungFound(body))?;
        let spread = tarn.stock_state(&room, stock)?.numbers.spread();
        let says = format!("Found {spread}: the brood {code}.{warning}");
        tarn.tell(recorded, &says, &[("brood", json!(brood)), ("stock", json!(stock))])
    }
}
