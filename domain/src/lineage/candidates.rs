//! Who may be a parent: all that were there when eggs were laid or young born, and whose sperm a female may have kept.
//! Numbers are those that the records have now. Decides nothing: a keeper may know more.

use std::collections::{BTreeMap, BTreeSet};

use super::ops::Window;
use crate::rooms::{Came, Node, Sex, Stay, StockState};
use crate::streams::{At, Days, StockId, TankId};

/// What is asked.
pub struct Search<'a> {
    /// The room's stocks.
    pub stocks: &'a BTreeMap<StockId, &'a StockState>,
    /// Where the eggs or young were.
    pub tank: TankId,
    /// When they may have been laid or born; both ends belong to it.
    pub window: Window,
    /// For how long females of the species keep sperm: none for most egg layers, months for many livebearers. The
    /// keeper's word until the care sheet says it.
    pub sperm: Days,
    /// Stocks whose females had not met a male before they came: parted young.
    pub virgin: &'a BTreeSet<StockId>,
}

/// So many fish of one node in one stock that may be a parent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Candidate {
    /// The stock.
    pub stock: StockId,
    /// The node.
    pub node: Node,
    /// How many.
    pub n: u32,
    /// When it was last with the others, if that was before the window: only kept sperm makes it a father.
    pub last_together: Option<At>,
}

/// Females that may carry sperm of males nobody here knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Mated {
    /// The stock.
    pub stock: StockId,
    /// When it came.
    pub came: At,
}

/// Who may be the parents.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Candidates {
    /// The males.
    pub sires: Vec<Candidate>,
    /// The females.
    pub dams: Vec<Candidate>,
    /// Females that came in mated, perhaps.
    pub mated: Vec<Mated>,
}

/// Who may be the parents.
pub fn candidates(search: &Search<'_>) -> Candidates {
    let Search { stocks, tank, window, sperm, virgin } = search;
    let mut found = Candidates::default();
    let here = |stock: &StockState| {
        wet(stock).any(|(place, stay)| place == *tank && meets(stay, window.from, window.to))
    };
    let dams: Vec<StockId> = stocks
        .iter()
        .filter(|(_, s)| here(s) && !of_sex(s, Sex::Female).is_empty())
        .map(|(id, _)| *id)
        .collect();
    let kept_from = window.from.minus(*sperm);
    for (&id, stock) in *stocks {
        if here(stock) {
            found.dams.extend(rows(id, stock, Sex::Female, None));
            found.sires.extend(rows(id, stock, Sex::Male, None));
        } else if let Some(last) =
            dams.iter().filter_map(|dam| together(stocks[dam], stock, kept_from, window.from)).max()
        {
            found.sires.extend(rows(id, stock, Sex::Male, Some(last)));
        }
    }
    for dam in dams.into_iter().filter(|dam| !virgin.contains(dam)) {
        let stock = stocks[&dam];
        let from_elsewhere = matches!(stock.came, Some(Came::In { .. } | Came::Parcel { .. }));
        if let Some(came) = stock.since.filter(|came| from_elsewhere && sperm.0 > 0 && *came >= kept_from) {
            found.mated.push(Mated { stock: dam, came });
        }
    }
    found
}

/// The stays in a tank.
fn wet(stock: &StockState) -> impl Iterator<Item = (TankId, &Stay)> {
    stock.stays.iter().filter_map(|stay| Some((stay.tank?, stay)))
}

/// Whether a stay has a moment from `from` to `to`, both included.
fn meets(stay: &Stay, from: At, to: At) -> bool {
    stay.from <= to && stay.until.is_none_or(|until| until > from)
}

/// The last moment, not before `from` and before `before`, that two stocks were in one tank.
fn together(a: &StockState, b: &StockState, from: At, before: At) -> Option<At> {
    let both = wet(a)
        .flat_map(|(tank, x)| wet(b).filter(move |(other, _)| *other == tank).map(move |(_, y)| (x, y)));
    let last = both.filter_map(|(x, y)| {
        let begun = x.from.max(y.from);
        let ended = [x.until, y.until].into_iter().flatten().min().unwrap_or(before).min(before);
        (begun < ended && ended > from).then_some(ended)
    });
    last.max()
}

fn rows(stock: StockId, state: &StockState, sex: Sex, last_together: Option<At>) -> Vec<Candidate> {
    of_sex(state, sex).into_iter().map(|(node, n)| Candidate { stock, node, n, last_together }).collect()
}

/// How many of each node could be a parent of this side: those of the sex, else those whose sex is not known.
pub fn of_sex(stock: &StockState, sex: Sex) -> Vec<(Node, u32)> {
    let of = |wanted: &[Sex]| {
        let mut all: BTreeMap<Node, u32> = BTreeMap::new();
        for ((node, _), n) in stock.numbers.rows().filter(|((_, s), n)| wanted.contains(s) && *n > 0) {
            let sum = all.entry(node).or_default();
            *sum = sum.saturating_add(u32::try_from(n).unwrap_or(u32::MAX));
        }
        all.into_iter().collect::<Vec<_>>()
    };
    let sexed = of(&[sex]);
    if sexed.is_empty() { of(&[Sex::Unsexed, Sex::Any]) } else { sexed }
}
