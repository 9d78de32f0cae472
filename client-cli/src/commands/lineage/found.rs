//! `tarn young found`. Parents are kept as this device sees them now: how many of which lineage could be a parent.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::lineage::{BroodName, Draw, Parents, ParentsOf, Window, YoungFound};
use tarn_domain::rooms::{Node, Sex, StockState};
use tarn_domain::streams::{NodeId, StockId};

use crate::clock;
use crate::commands::arguments::{When, name, numbers, optional};
use crate::failure::{Failure, Outcome};
use crate::store::StreamRow;
use crate::tarn::Tarn;

/// Records young that were found: they become a brood, and a stock.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn young found BG-12 about 30 --parents \"Blue\" --tank F1\n  \
    tarn young found D-3 26 eggs --sires \"Danios\" --one-sire --dams \"Danios=1\" --born-from 2026-03-01 --born-to 2026-03-05",
    after_help = "Parents are stocks; =N narrows how many of it could be a parent. Without --one-sire or --one-dam the young \
    may have different parents, drawn from all."
)]
pub struct Found {
    /// Your code for the brood
    code: String,
    /// How many
    #[arg(required = true, num_args = 1.., value_name = "NUMBERS")]
    numbers: Vec<String>,
    /// The stock that both parents are of; may be repeated
    #[arg(long = "parents", value_name = "STOCK", conflicts_with_all = ["sires", "dams"])]
    parents: Vec<String>,
    /// The stock the fathers are of, as STOCK or STOCK=N; may be repeated
    #[arg(long, value_name = "STOCK")]
    sires: Vec<String>,
    /// The stock the mothers are of, as STOCK or STOCK=N; may be repeated
    #[arg(long, value_name = "STOCK")]
    dams: Vec<String>,
    /// One male, perhaps unknown which, is the father of them all
    #[arg(long)]
    one_sire: bool,
    /// One female, perhaps unknown which, is the mother of them all
    #[arg(long)]
    one_dam: bool,
    /// Born or laid not before
    #[arg(long, value_name = "TIME", requires = "born_to")]
    born_from: Option<String>,
    /// Born or laid not after
    #[arg(long, value_name = "TIME", requires = "born_from")]
    born_to: Option<String>,
    /// Where they swim; without one in the bag
    #[arg(long)]
    tank: Option<String>,
    /// The species as kept [default: the parents']
    #[arg(long, value_name = "NAME")]
    species: Option<String>,
    /// Colour or fin form [default: the parents', if they agree]
    #[arg(long)]
    form: Option<String>,
    #[command(flatten)]
    when: When,
}

impl Found {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (brood, stock) = (NodeId(clock::new_id()), StockId(clock::new_id()));
        let (sires_typed, dams_typed) =
            if self.parents.is_empty() { (&self.sires, &self.dams) } else { (&self.parents, &self.parents) };
        let mut seen = Vec::new();
        let sires = side(tarn, &room, sires_typed, Sex::Male, self.one_sire, &mut seen)?;
        let dams = side(tarn, &room, dams_typed, Sex::Female, self.one_dam, &mut seen)?;
        let window =
            match (tarn.at(&room, self.born_from.as_deref())?, tarn.at(&room, self.born_to.as_deref())?) {
                (Some(from), Some(to)) if from > to => {
                    return Err(Failure::wrong_use("--born-from is after --born-to"));
                }
                (Some(from), Some(to)) => Some(Window { from, to }),
                _ => None,
            };
        let name_of = BroodName {
            species: optional(self.species)?.or_else(|| agreed(&seen, |s| s.species.as_ref())),
            form: optional(self.form)?.or_else(|| agreed(&seen, |s| s.form.as_ref())),
            ..BroodName::default()
        };
        let code = name(&self.code)?;
        let body = YoungFound {
            brood,
            spawning: None,
            code: code.clone(),
            name: name_of,
            window,
            sires,
            dams,
            stock,
            rows: numbers(&self.numbers)?.rows(Node::Of(brood)),
            tank: self.tank.as_deref().map(|typed| tarn.tank(&room, typed)).transpose()?,
        };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::YoungFound(body))?;
        let spread = tarn.stock_state(&room, stock)?.numbers.spread();
        let says = format!("Found {spread}: the brood {code}.");
        tarn.tell(recorded, &says, &[("brood", json!(brood)), ("stock", json!(stock))])
    }
}

/// What all parents agree on.
fn agreed(seen: &[StockState], of: impl Fn(&StockState) -> Option<&String>) -> Option<String> {
    let first = of(seen.first()?)?;
    seen.iter().all(|s| of(s) == Some(first)).then(|| first.clone())
}

/// One side of the parents, as counted now.
fn side(
    tarn: &Tarn,
    room: &StreamRow,
    typed: &[String],
    sex: Sex,
    one: bool,
    seen: &mut Vec<StockState>,
) -> Outcome<Option<Parents>> {
    let mut of = Vec::new();
    for text in typed {
        let (stock, narrowed) = match text.rsplit_once('=') {
            Some((stock, n)) => (
                stock,
                Some(
                    n.trim()
                        .parse::<u32>()
                        .ok()
                        .filter(|n| *n > 0)
                        .ok_or_else(|| Failure::wrong_use(format!("{n:?} is no number of parents")))?,
                ),
            ),
            None => (text.as_str(), None),
        };
        let (id, state) = tarn.stock(room, stock)?;
        let mut rows = candidates(&state, sex);
        if let Some(n) = narrowed {
            let [(_, most)] = &mut rows[..] else {
                return Err(Failure::wrong_use(format!(
                    "{stock:?} has possible parents of several broods, so =N can't narrow them"
                )));
            };
            *most = n;
        }
        if rows.is_empty() {
            let word = if sex == Sex::Male { "male" } else { "female" };
            return Err(Failure::refused(format!("by the records there is no {word} in {stock:?}"))
                .hint("Record their sexes (tarn stock sex), or say how many could be: STOCK=N."));
        }
        of.extend(rows.into_iter().map(|(node, n)| ParentsOf { stock: id, node, n, weight: None }));
        seen.push(state);
    }
    let draw = if one { Draw::One } else { Draw::Many };
    Ok((!of.is_empty()).then_some(Parents { of, draw }))
}

/// How many of each lineage could be a parent: those of the sex, else those whose sex is not known.
fn candidates(stock: &StockState, sex: Sex) -> Vec<(Node, u32)> {
    let of = |wanted: &[Sex]| {
        let mut all: Vec<(Node, u32)> = Vec::new();
        for ((node, _), n) in stock.numbers.rows().filter(|((_, s), n)| wanted.contains(s) && *n > 0) {
            let n = u32::try_from(n).unwrap_or(u32::MAX);
            match all.iter_mut().find(|(known, _)| *known == node) {
                Some((_, sum)) => *sum = sum.saturating_add(n),
                None => all.push((node, n)),
            }
        }
        all
    };
    let sexed = of(&[sex]);
    if sexed.is_empty() { of(&[Sex::Unsexed, Sex::Any]) } else { sexed }
}
