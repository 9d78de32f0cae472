//! Who may be a parent: all that were there when eggs were laid or young born, and whose sperm a female may have kept.
//! Numbers are those that the records have now. Decides nothing: a keeper may know more.

use std::collections::{BTreeMap, BTreeSet};

use super::ops::Window;
use crate::rooms::words::Keeping;
use crate::rooms::{Came, Node, Numbers, Sex, Stay, StockState};
use crate::streams::{At, Days, StockId, TankId};

/// No fish is known to spawn younger: the turquoise killifish from 14 days on (Vrtílek et al., Current Biology 28, 2018;
/// from memory). When a species does is for its care sheet to say.
pub const YOUNGEST: Days = Days(14);

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
    /// The stock as which they came, if they were split off it since.
    pub arrived: StockId,
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
    let lives: BTreeMap<StockId, Life> = stocks.keys().map(|id| (*id, Life::of(stocks, *id))).collect();
    let grown = || stocks.iter().filter(|(_, stock)| !is_too_young(stock, window.to));
    let here = |stock: &StockState| {
        let mut stays = stock.stays.iter().filter(|stay| stay.tank == Some(*tank));
        stays.any(|stay| stay.from <= window.to && stay.until.is_none_or(|until| until > window.from))
    };
    let is_dam = |stock: &StockState| here(stock) && !of_sex(stock, Sex::Female).is_empty();
    let dams: Vec<StockId> = grown().filter(|(_, s)| is_dam(s)).map(|(id, _)| *id).collect();
    let kept_from = window.from.minus(*sperm);
    for (&id, stock) in grown() {
        if here(stock) {
            found.dams.extend(rows(id, stock, Sex::Female, None));
            found.sires.extend(rows(id, stock, Sex::Male, None));
            continue;
        }
        let met = |dam: &StockId| lives[dam].last_with(&lives[&id], kept_from, window.from);
        if let Some(last) = dams.iter().filter_map(met).max() {
            found.sires.extend(rows(id, stock, Sex::Male, Some(last)));
        }
    }
    for stock in dams {
        let Some((arrived, came)) = lives[&stock].came else { continue };
        let said =
            |id: StockId| virgin.contains(&id) || stocks.get(&id).is_some_and(|s| s.virgin == Some(true));
        if sperm.0 > 0 && came >= kept_from && !said(stock) && !said(arrived) {
            found.mated.push(Mated { stock, arrived, came });
        }
    }
    found
}

/// Bred here and hardly older than its eggs, or being raised with nobody's sex known.
fn is_too_young(stock: &StockState, at: At) -> bool {
    let born = matches!(stock.came, Some(Came::Born { .. }));
    let fresh = born && stock.since.is_none_or(|since| since.plus(YOUNGEST) > at);
    let sexed = [Sex::Male, Sex::Female].iter().any(|sex| Numbers::of_sex(&stock.numbers, *sex) > 0);
    fresh || (!sexed && matches!(stock.keeping, Some(Keeping::GrowOut | Keeping::Eggs)))
}

/// Where fish of a stock were, also while they were part of another.
struct Life {
    stays: Vec<(TankId, At, Option<At>)>,
    /// As which stock and when they came from elsewhere, if they did.
    came: Option<(StockId, At)>,
}

impl Life {
    fn of(stocks: &BTreeMap<StockId, &StockState>, id: StockId) -> Self {
        let mut life = Self { stays: Vec::new(), came: None };
        let (mut next, mut seen, mut end) = (Some(id), BTreeSet::new(), None);
        while let Some(id) = next.take().filter(|id| seen.insert(*id)) {
            let Some(stock) = stocks.get(&id) else { break };
            let until = |stay: &Stay| match (stay.until, end) {
                (Some(a), Some(b)) => Some(At::min(a, b)),
                (a, b) => a.or(b),
            };
            let wet = stock.stays.iter().filter(|stay| end.is_none_or(|end| stay.from < end));
            life.stays.extend(wet.filter_map(|stay| Some((stay.tank?, stay.from, until(stay)))));
            match stock.came {
                Some(Came::Split { of }) => {
                    next = Some(of);
                    end = stock.since;
                }
                Some(Came::In { .. } | Came::Parcel { .. }) => {
                    life.came = stock.since.map(|since| (id, since));
                }
                _ => {}
            }
        }
        life
    }

    /// The last moment after `from` and not after `before` at which both were in one tank.
    fn last_with(&self, other: &Self, from: At, before: At) -> Option<At> {
        let both =
            self.stays.iter().flat_map(|x| other.stays.iter().filter(|y| y.0 == x.0).map(move |y| (x, y)));
        let last = both.filter_map(|(x, y)| {
            let begun = x.1.max(y.1);
            let ended = [x.2, y.2].into_iter().flatten().min().unwrap_or(before).min(before);
            (begun < ended && ended > from).then_some(ended)
        });
        last.max()
    }
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
