//! Parents as they are typed: stocks, and how many of each could be one. They are kept as this device sees them now.

use clap::Args;
use tarn_domain::lineage::{Draw, Parents, ParentsOf, of_sex};
use tarn_domain::rooms::{Sex, StockState};
use tarn_domain::streams::StockId;

use crate::failure::{Failure, Outcome};
use crate::store::StreamRow;
use crate::tarn::Tarn;

/// Who the parents are.
#[derive(Debug, Clone, Default, Args)]
pub struct ParentsTyped {
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
}

/// The parents as ops hold them.
#[derive(Debug, Default)]
pub struct ParentsRead {
    /// The fathers; none: not told.
    pub sires: Option<Parents>,
    /// The mothers.
    pub dams: Option<Parents>,
    seen: Vec<StockState>,
}

impl ParentsTyped {
    /// What was typed, found and counted now.
    pub fn read(&self, tarn: &Tarn, room: &StreamRow) -> Outcome<ParentsRead> {
        let (sires, dams) =
            if self.parents.is_empty() { (&self.sires, &self.dams) } else { (&self.parents, &self.parents) };
        let mut seen = Vec::new();
        let sires = side(tarn, room, sires, Sex::Male, self.one_sire, &mut seen)?;
        let dams = side(tarn, room, dams, Sex::Female, self.one_dam, &mut seen)?;
        Ok(ParentsRead { sires, dams, seen })
    }
}

impl ParentsRead {
    /// What all parents agree on.
    pub fn agree_on(&self, of: impl Fn(&StockState) -> Option<&String>) -> Option<String> {
        let first = of(self.seen.first()?)?;
        self.seen.iter().all(|s| of(s) == Some(first)).then(|| first.clone())
    }

    /// The stocks they are of.
    pub fn stocks(&self) -> Vec<StockId> {
        stocks_of([self.sires.as_ref(), self.dams.as_ref()])
    }

    /// The tank that all of them swim in.
    pub fn tank(&self) -> Option<tarn_domain::streams::TankId> {
        let first = self.seen.first()?.place()??;
        self.seen.iter().all(|s| s.place() == Some(Some(first))).then_some(first)
    }
}

/// The stocks of both sides.
pub fn stocks_of(sides: [Option<&Parents>; 2]) -> Vec<StockId> {
    sides.into_iter().flatten().flat_map(|side| side.of.iter().map(|p| p.stock)).collect()
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
        of.extend(rows.into_iter().map(|(node, n)| ParentsOf { stock: id, node, n, weight: None }));
        seen.push(state);
    }
    let draw = if one { Draw::One } else { Draw::Many };
    Ok((!of.is_empty()).then_some(Parents { of, draw }))
}
