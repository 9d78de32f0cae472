//! `tarn stock sex`.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::choose;
use tarn_domain::rooms::ops::{Sexing, StockSexed};
use tarn_domain::rooms::{Node, Sex};

use crate::commands::arguments::{OfBrood, When, node, not_chosen, numbers, own_node};
use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Records fish whose sex is now known, or was taken wrongly.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn stock sex \"Blue\" 3 m 4 f\n  tarn stock sex \"Blue\" 1 f --was male"
)]
pub struct Sexed {
    /// Which stock
    stock: String,
    /// Who turned out to be what
    #[arg(required = true, num_args = 1.., value_name = "NUMBERS")]
    numbers: Vec<String>,
    /// What they counted as: unsexed, male, female, eggs
    #[arg(long, default_value = "unsexed", value_name = "WORD")]
    was: String,
    #[command(flatten)]
    of: OfBrood,
    #[command(flatten)]
    when: When,
}

impl Sexed {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (stock, state) = tarn.stock(&room, &self.stock)?;
        let from = match self.was.as_str() {
            "unsexed" => Sex::Unsexed,
            "male" | "m" => Sex::Male,
            "female" | "f" => Sex::Female,
            "eggs" => Sex::Eggs,
            "any" => Sex::Any,
            other => {
                return Err(Failure::wrong_use(format!(
                    "{other:?} is none of unsexed, male, female, eggs, any"
                )));
            }
        };
        let node = match node(tarn, &room, &state, &self.of)? {
            Some(node) => node,
            None => only_node(&state.numbers, from, own_node(&state))
                .map_err(|why| not_chosen(tarn, &room, why))?,
        };
        let typed = numbers(&self.numbers)?;
        let rows = typed.0.iter().map(|&(to, n, _)| Sexing { node, from, to, n }).collect();
        if typed.0.iter().any(|(to, _, _)| *to == from) {
            return Err(
                Failure::wrong_use(format!("they count as {} already", self.was)).hint("Write 3 m 4 f.")
            );
        }
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::StockSexed(StockSexed { stock, rows }))?;
        let spread = tarn.stock_state(&room, stock)?.numbers.spread();
        tarn.tell(recorded, &format!("Now {spread}."), &[("stock", json!(stock))])
    }
}

/// The one lineage that has fish of a sex.
fn only_node(
    numbers: &tarn_domain::rooms::Numbers,
    sex: Sex,
    none_left: Node,
) -> Result<Node, choose::NotChosen> {
    let all = choose::nodes(numbers);
    let with: Vec<Node> = all.iter().copied().filter(|node| numbers.get((*node, sex)) > 0).collect();
    match (with.as_slice(), all.len()) {
        ([one], _) => Ok(*one),
        (_, 0) => Ok(none_left),
        (_, 1) => Ok(all.first().copied().unwrap_or(none_left)),
        _ => Err(choose::NotChosen::Which(all.into_iter().collect())),
    }
}
