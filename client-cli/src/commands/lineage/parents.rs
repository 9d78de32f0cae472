//! Parents as they are typed: stocks, and how many of each could be one. They are kept as this device sees them now.

use std::collections::BTreeSet;

use clap::Args;
use tarn_domain::lineage::{
    BroodName, Draw, Parents, ParentsOf, Search, Window, candidates, differ, of_sex, stocks_of, unnamed_sire,
};
use tarn_domain::rooms::{Node, Sex, StockState};
use tarn_domain::state::view;
use tarn_domain::streams::{Days, EntityKind, StockId, TankId};

use crate::failure::{Failure, Outcome};
use crate::store::StreamRow;
use crate::tarn::{Names, Tarn};

/// Who the parents are.
#[derive(Debug, Clone, Default, Args)]
pub struct ParentsTyped {
    /// The stock that both parents are of; may be repeated
    #[arg(long = "parents", value_name = "STOCK", conflicts_with_all = ["sires", "dams"])]
    parents: Vec<String>,
    /// The stock the fathers are of, as STOCK, STOCK=N or STOCK=N:WEIGHT; may be repeated
    #[arg(long, value_name = "STOCK")]
    sires: Vec<String>,
    /// The stock the mothers are of, as STOCK, STOCK=N or STOCK=N:WEIGHT; may be repeated
    #[arg(long, value_name = "STOCK")]
    dams: Vec<String>,
    /// The tank in which all that were there may be the parents; may be repeated
    #[arg(long, value_name = "TANK", conflicts_with_all = ["parents", "sires", "dams"])]
    there: Vec<String>,
    /// For how many days females of the species keep sperm: with --there, males that they met before count too
    #[arg(long, value_name = "DAYS", default_value_t = 0, requires = "there")]
    sperm_days: u16,
    /// One male, perhaps unknown which, is the father of them all
    #[arg(long)]
    one_sire: bool,
    /// One female, perhaps unknown which, is the mother of them all
    #[arg(long)]
    one_dam: bool,
}

/// The parents as ops hold them.
#[derive(Debug, Default)]
pub struct ParentsRead {
    /// The fathers; none: not told.
    pub sires: Option<Parents>,
    /// The mothers.
    pub dams: Option<Parents>,
    seen: Vec<StockState>,
    mated: Vec<StockId>,
}

impl ParentsTyped {
    /// Whether fathers and mothers are said not to be known.
    pub fn not_known(&self) -> [bool; 2] {
        [&self.sires, &self.dams]
            .map(|typed| typed.len() == 1 && typed.iter().all(|word| word == "not-known"))
    }

    /// What was typed, found and counted now; `window`: when it was, for those that were there then.
    pub fn read(&self, tarn: &Tarn, room: &StreamRow, window: Window) -> Outcome<ParentsRead> {
        if !self.there.is_empty() {
            return self.all_there(tarn, room, window);
        }
        let [no_sires, no_dams] = self.not_known();
        let none = Vec::new();
        let (sires, dams) = if self.parents.is_empty() {
            (if no_sires { &none } else { &self.sires }, if no_dams { &none } else { &self.dams })
        } else {
            (&self.parents, &self.parents)
        };
        let mut seen = Vec::new();
        let sires = side(tarn, room, sires, Sex::Male, self.one_sire, &mut seen)?;
        let dams = side(tarn, room, dams, Sex::Female, self.one_dam, &mut seen)?;
        Ok(ParentsRead { sires, dams, seen, mated: Vec::new() })
    }

    fn all_there(&self, tarn: &Tarn, room: &StreamRow, window: Window) -> Outcome<ParentsRead> {
        let states = tarn.store.states(room, &[EntityKind::Stock])?;
        let laid_out = view(states.iter().map(|(entity, state)| (*entity, state)));
        let mut read = ParentsRead::default();
        let (mut sires, mut dams) = (Vec::new(), Vec::new());
        for typed in &self.there {
            let found = candidates(&Search {
                stocks: &laid_out.stocks,
                tank: tarn.tank(room, typed)?,
                window,
                sperm: Days(self.sperm_days),
                virgin: &BTreeSet::new(),
            });
            for (side, all) in [(&mut sires, found.sires), (&mut dams, found.dams)] {
                for c in all {
                    let parent = ParentsOf { stock: c.stock, node: c.node, n: c.n, weight: None };
                    if !side.contains(&parent) {
                        side.push(parent);
                    }
                }
            }
            for mated in &found.mated {
                let node = Node::Of(unnamed_sire(mated.arrived));
                let unnamed = ParentsOf { stock: mated.arrived, node, n: 1, weight: None };
                if !sires.contains(&unnamed) {
                    sires.push(unnamed);
                }
                read.mated.push(mated.stock);
            }
        }
        if dams.is_empty() {
            return Err(Failure::refused("by the records no female was there then")
                .hint("Say who the parents are: --parents, or --sires and --dams."));
        }
        let stocks: BTreeSet<StockId> = sires.iter().chain(&dams).map(|p| p.stock).collect();
        read.seen =
            stocks.iter().filter_map(|stock| laid_out.stocks.get(stock).map(|s| (*s).clone())).collect();
        let side = |of: Vec<ParentsOf>, one: bool| {
            let draw = if one { Draw::One } else { Draw::Many };
            (!of.is_empty()).then_some(Parents { of, draw })
        };
        read.sires = side(sires, self.one_sire);
        read.dams = side(dams, self.one_dam);
        Ok(read)
    }
}

impl ParentsRead {
    /// What all parents agree on.
    pub fn agree_on(&self, of: impl Fn(&StockState) -> Option<&String>) -> Option<String> {
        let first = of(self.seen.first()?)?;
        self.seen.iter().all(|s| of(s) == Some(first)).then(|| first.clone())
    }

    /// What to say of parents of two species; nothing, if they are of one as far as is told.
    fn cross(&self) -> String {
        let species: Vec<&String> = self.seen.iter().filter_map(|stock| stock.species.as_ref()).collect();
        let Some(first) = species.first() else { return String::new() };
        let Some(other) = species.iter().find(|other| differ(first, other)) else { return String::new() };
        format!(
            " {first} and {other}: young of both are a cross, shown as one for ever, and never listed under either name."
        )
    }

    /// What a brood is called as far as its parents agree and nothing else was said.
    pub fn fill(&self, name: &mut BroodName) {
        let agreed =
            |own: Option<String>, of: fn(&StockState) -> Option<&String>| own.or_else(|| self.agree_on(of));
        name.species = agreed(name.species.take(), |stock| stock.species.as_ref());
        name.form = agreed(name.form.take(), |stock| stock.form.as_ref());
    }

    /// The stocks they are of.
    pub fn stocks(&self) -> BTreeSet<StockId> {
        stocks_of([&self.sires, &self.dams])
    }

    /// What to say of females that may have come in mated; nothing, if there are none.
    pub fn warning(&self, names: &Names) -> String {
        let cross = self.cross();
        let all: Vec<String> = self.mated.iter().map(|stock| names.of(*stock)).collect();
        if all.is_empty() {
            return cross;
        }
        cross
            + &format!(
                " Females of {} came in lately and may have been mated: a male nobody here knows may be the father, and is \
             kept as one of them. If they had met no male: tarn stock describe STOCK --virgin yes, and tarn brood correct.",
                all.join(", ")
            )
    }

    /// The tank that all of them swim in.
    pub fn tank(&self) -> Option<TankId> {
        let first = self.seen.first()?.place()??;
        self.seen.iter().all(|s| s.place() == Some(Some(first))).then_some(first)
    }
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
        let (stock, narrowed, weight) = match text.rsplit_once('=') {
            Some((stock, typed)) => {
                let (n, weight) = typed.split_once(':').map_or((typed, None), |(n, w)| (n, Some(w)));
                (stock, Some(number(n, "number of parents")?), weight.map(thousandths).transpose()?)
            }
            None => (text.as_str(), None, None),
        };
        let (id, state) = tarn.stock(room, stock)?;
        let mut rows = of_sex(&state, sex);
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
        of.extend(rows.into_iter().map(|(node, n)| ParentsOf { stock: id, node, n, weight }));
        seen.push(state);
    }
    let draw = if one { Draw::One } else { Draw::Many };
    let side = Parents { of, draw };
    if side.of.is_empty() {
        return Ok(None);
    }
    side.check().map_err(|bad| {
        Failure::wrong_use(bad.to_string()).hint("A weight is typed as STOCK=N:W, such as \"Blue=1:750\".")
    })?;
    Ok(Some(side))
}

fn number(text: &str, of: &str) -> Outcome<u32> {
    let read = text.trim().parse::<u32>().ok().filter(|n| *n > 0);
    read.ok_or_else(|| Failure::wrong_use(format!("{text:?} is no {of}")))
}

fn thousandths(text: &str) -> Outcome<u16> {
    let weight = number(text, "weight in thousandths")?;
    u16::try_from(weight)
        .ok()
        .filter(|weight| *weight <= 1000)
        .ok_or_else(|| Failure::wrong_use(format!("{text:?} is more than 1000 thousandths")))
}
