//! `tarn spawn eggs`, `checked` and `hatched`: eggs as numbers.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::lineage::{BroodName, EggsChecked, EggsCollected, EggsHatched, Hatch, NewBrood, Window};
use tarn_domain::rooms::{Count, Node, Sex, Typed};
use tarn_domain::state::EntityState;
use tarn_domain::streams::{EntityKind, NodeId, SpawningId, StockId};

use super::which;
use crate::clock;
use crate::commands::arguments::{OfBrood, When, name, numbers, taken};
use crate::commands::lineage::naming::NameTyped;
use crate::commands::lineage::parents::ParentsTyped;
use crate::failure::{Failure, Outcome};
use crate::find::find;
use crate::tarn::Tarn;

/// Records eggs that were collected. They are a stock of their own; with --more they join a brood that is there, so that
/// the picks of several days are one brood.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn spawn eggs P-7 120 --parents \"Pearl pair\" --tank H2\n  \
    tarn spawn eggs K-2 14 --parents \"Kingfisher colony\" --laid-from yesterday --laid-to now\n  \
    tarn spawn eggs K-2 9 --more")]
pub struct Eggs {
    /// Your code for the brood
    code: String,
    /// How many: 120, or about 120
    #[arg(required = true, num_args = 1.., value_name = "NUMBER")]
    numbers: Vec<String>,
    /// They join the brood of this code
    #[arg(long, conflicts_with_all = ["parents", "sires", "dams", "there", "one_sire", "one_dam"])]
    more: bool,
    #[command(flatten)]
    parents: ParentsTyped,
    /// Laid not before [default: when they were collected]
    #[arg(long, value_name = "TIME")]
    laid_from: Option<String>,
    /// Laid not after [default: when they were collected]
    #[arg(long, value_name = "TIME")]
    laid_to: Option<String>,
    /// Where they are; without one in no tank\u{2019}s water
    #[arg(long)]
    tank: Option<String>,
    #[command(flatten)]
    name: NameTyped,
    #[command(flatten)]
    when: When,
}

/// So many eggs as typed, their number, and whether that is a guess.
fn eggs(words: &[String]) -> Outcome<(Typed, Count, bool)> {
    let text = words.join(" ");
    let text = if text.to_lowercase().contains("egg") { text } else { format!("{text} eggs") };
    let typed = numbers(&[text])?;
    match &typed.rows(Node::Unassigned)[..] {
        [row] if row.sex == Sex::Eggs && row.n.get() > 0 => Ok((typed.clone(), row.n, row.about)),
        _ => Err(Failure::wrong_use("say how many eggs: 120, or about 120")),
    }
}

impl Eggs {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (_, n, about) = eggs(&self.numbers)?;
        let stock = StockId(clock::new_id());
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let collected = at.map_or_else(|| tarn.now(), Ok)?;
        let window = Window {
            from: tarn.at(&room, self.laid_from.as_deref())?.unwrap_or(collected),
            to: tarn.at(&room, self.laid_to.as_deref())?.unwrap_or(collected),
        };
        if window.from > window.to {
            return Err(Failure::wrong_use("--laid-from is after --laid-to"));
        }
        let tank = self.tank.as_deref().map(|typed| tarn.tank(&room, typed)).transpose()?;
        let code = name(&self.code)?;
        let (brood, spawning, new, species, form, called);
        let mut warning = String::new();
        if self.more {
            if self.name.clone().read()? != BroodName::default() {
                return Err(Failure::wrong_use("the brood is there and has its name already")
                    .hint("tarn brood rename"));
            }
            let all = tarn.store.named(&room, EntityKind::Brood)?;
            let entity = find("brood", &code, &all, |_| false)?;
            let Some(EntityState::Brood(there)) = tarn.store.state(&room, entity)? else {
                return Err(Failure::refused("the brood is not in this room"));
            };
            brood = NodeId(entity.id);
            let of_it = which::all(tarn, &room)?.into_iter().rev().find(|(_, s)| s.broods.contains(&brood));
            let picks = of_it.as_ref().map_or(1, |(_, s)| s.stocks.len());
            spawning = of_it.map(|(id, _)| id);
            called = format!("{} pick {}", there.code.as_deref().unwrap_or(&code), picks + 1);
            (species, form, new) = (there.name.species.clone(), there.name.form.clone(), None);
        } else {
            let parents = self.parents.read(tarn, &room, window)?;
            warning = parents.warning(&tarn.names(&room, &[EntityKind::Stock])?);
            brood = NodeId(clock::new_id());
            let known = which::continued(tarn, &room, &parents, which::is_without_brood)?;
            spawning = Some(known.unwrap_or_else(|| SpawningId(clock::new_id())));
            let mut name = self.name.read()?;
            parents.fill(&mut name);
            (species, form) = (name.species.clone(), name.form.clone());
            called = code.clone();
            new = Some(NewBrood { code: code.clone(), name, sires: parents.sires, dams: parents.dams });
        }
        let body = EggsCollected {
            spawning,
            brood,
            new,
            window,
            stock,
            name: Some(called.clone()),
            species,
            form,
            n,
            about,
            tank,
        };
        let recorded = tarn.record(&room, at, Body::EggsCollected(body))?;
        let spread = tarn.stock_state(&room, stock)?.numbers.spread();
        let guess = if about { "about " } else { "" };
        let says = format!("Collected {guess}{spread}: the stock {called}.{warning}");
        let ids = [("brood", json!(brood)), ("stock", json!(stock)), ("spawning", json!(spawning))];
        tarn.tell(recorded, &says, &ids)
    }
}

/// Records a look at the eggs. Eggs that are lost are a loss: tarn stock lost, cause eggs_failed.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn spawn checked \"Pearl pair\" --laid 130 --fungus 12")]
pub struct Checked {
    /// Which spawning: a stock of its fish or eggs, or its id; the only one under way
    spawning: Option<String>,
    /// How many were laid, as far as can be told
    #[arg(long, value_name = "N", required_unless_present = "fungus")]
    laid: Option<u32>,
    /// How many have fungus
    #[arg(long, value_name = "N")]
    fungus: Option<u32>,
    #[command(flatten)]
    when: When,
}

impl Checked {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (spawning, _) = which::under_way(tarn, &room, self.spawning.as_deref())?;
        let count = |n: Option<u32>| match n {
            Some(n) => Count::of(n).map(Some).ok_or_else(|| Failure::wrong_use("at most ten million")),
            None => Ok(None),
        };
        let body = EggsChecked { spawning, laid: count(self.laid)?, fungused: count(self.fungus)? };
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::EggsChecked(body))?;
        tarn.tell(recorded, "Recorded.", &[("spawning", json!(spawning))])
    }
}

/// Records that eggs of a stock hatched: they count as young from now on.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn spawn hatched P-7\n  tarn spawn hatched P-7 about 80")]
pub struct Hatched {
    /// The stock of eggs
    stock: String,
    /// How many [default: all eggs that are left]
    #[arg(num_args = 0.., value_name = "NUMBER")]
    numbers: Vec<String>,
    #[command(flatten)]
    of: OfBrood,
    #[command(flatten)]
    when: When,
}

impl Hatched {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (stock, state) = tarn.stock(&room, &self.stock)?;
        let rows: Vec<Hatch> = if self.numbers.is_empty() {
            let eggs = state.numbers.rows().filter(|((_, sex), n)| *sex == Sex::Eggs && *n > 0);
            let count = |n: i64| u32::try_from(n).ok().and_then(Count::of);
            eggs.filter_map(|((node, _), n)| Some(Hatch { node, n: count(n)? })).collect()
        } else {
            let (typed, ..) = eggs(&self.numbers)?;
            let rows = taken(tarn, &room, &state, &typed, &self.of)?;
            rows.into_iter().map(|row| Hatch { node: row.node, n: row.n }).collect()
        };
        if rows.is_empty() {
            return Err(Failure::refused(format!("by the records there are no eggs in {:?}", self.stock)));
        }
        let spawning = which::all(tarn, &room)?.into_iter().rev().find(|(_, s)| s.stocks.contains(&stock));
        let spawning = spawning.map(|(id, _)| id);
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::EggsHatched(EggsHatched { spawning, stock, rows }))?;
        let spread = tarn.stock_state(&room, stock)?.numbers.spread();
        tarn.tell(recorded, &format!("Hatched. Now there are {spread}."), &[("spawning", json!(spawning))])
    }
}
