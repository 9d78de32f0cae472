//! `tarn stock move`.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::StockMoved;
use tarn_domain::streams::EntityKind;

use crate::commands::arguments::When;
use crate::commands::quarantine;
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Records that a whole stock was moved. (To move a part, split it off.) Always possible, whatever it does to a
/// quarantine: the fish come first.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn stock move \"Blue\" A2\n  tarn stock move \"Blue\" --bag --at 09:30"
)]
pub struct Move {
    /// Which stock
    stock: String,
    /// Into which tank
    #[arg(required_unless_present = "bag", conflicts_with = "bag")]
    tank: Option<String>,
    /// Into the bag
    #[arg(long)]
    bag: bool,
    /// Out of which tank, if it isn't where the records have it
    #[arg(long, value_name = "TANK")]
    from: Option<String>,
    /// On purpose to fish in quarantine, as test companions: they are held with them
    #[arg(long)]
    companion: bool,
    #[command(flatten)]
    when: When,
}

impl Move {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (stock, state) = tarn.stock(&room, &self.stock)?;
        let to = self.tank.as_deref().map(|typed| tarn.tank(&room, typed)).transpose()?;
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let from = match self.from.as_deref() {
            Some(typed) => Some(tarn.tank(&room, typed)?),
            None => {
                // where it was then, for a move written down later
                let then = at.and_then(|at| {
                    state
                        .stays
                        .iter()
                        .rfind(|s| s.from <= at && s.until.is_none_or(|u| at < u) && !s.doubtful)
                });
                then.map(|stay| stay.tank).or(state.place()).or(state.stays.last().map(|s| s.tank)).flatten()
            }
        };
        if from == to {
            return Err(Failure::refused("it is recorded there already"));
        }
        let before = quarantine::held(tarn, &room)?;
        let companion = self.companion;
        let recorded = tarn.record(&room, at, Body::StockMoved(StockMoved { stock, from, to, companion }))?;
        quarantine::tell_breach(tarn, &room, &before)?;
        let names = tarn.names(&room, &[EntityKind::Tank, EntityKind::Stock])?;
        let says = format!("{} is now {}.", names.of(stock), at_place(&names, to));
        tarn.tell(recorded, &says, &[("stock", json!(stock)), ("tank", json!(to))])
    }
}

fn at_place(names: &crate::tarn::Names, place: Option<tarn_domain::streams::TankId>) -> String {
    place.map_or_else(|| "in the bag".into(), |tank| format!("in {}", names.of(tank)))
}
