//! The slow reading of what begins the days again: treatments, signs, losses, the keeper's own word. And of looks.

use std::collections::BTreeSet;

use tarn_domain::quarantine::{Evidence, RestartOn};
use tarn_domain::rooms::TreatmentState;
use tarn_domain::streams::{At, StockId};

use super::Slow;
use super::waters::{Node, Side, Water, is_there, water_of, waters, were};

/// Which treatments are meant, as of an instant.
#[derive(Debug, Clone, Copy)]
pub enum Runs {
    /// Those that ran just before it.
    Before,
    /// Those, and those that begin at it.
    Within,
    /// Those that go on.
    After,
    /// Those of no length.
    AtOnce,
}

impl Slow<'_> {
    /// Everything of an instant that begins the days again.
    pub(super) fn begin_again(&mut self, at: At, within: &[Water]) {
        self.treat(at, within);
        let mut again: BTreeSet<StockId> = BTreeSet::new();
        for evidence in self.room.evidence {
            match evidence {
                Evidence::Sign { at: when, stock, tank, .. } if *when == at => {
                    let seen = match (stock, tank) {
                        (Some(stock), _) => [*stock].into(),
                        (None, Some(tank)) => self.in_tank(*tank, at),
                        (None, None) => BTreeSet::new(),
                    };
                    for stock in seen.into_iter().filter(|stock| self.restarts_on(*stock, RestartOn::Sign)) {
                        again.extend(self.company(stock, at));
                    }
                }
                Evidence::Restart { at: when, stock, .. } if *when == at => {
                    again.extend(water_of(within, *stock).into_iter().flat_map(|water| water.stocks.clone()));
                }
                _ => {}
            }
        }
        for stock in self.lost_unexplained(at) {
            if self.restarts_on(stock, RestartOn::UnexplainedLoss) {
                again.extend(self.company(stock, at));
            }
        }
        for stock in again {
            if let Some(held) = self.held_mut(stock) {
                held.again(at);
            }
        }
    }

    fn restarts_on(&self, stock: StockId, what: RestartOn) -> bool {
        self.held(stock).is_some_and(|held| held.terms.rule.restart_on.contains(&what))
    }

    fn in_tank(&self, tank: tarn_domain::streams::TankId, at: At) -> BTreeSet<StockId> {
        let here = |id: &StockId| {
            let stock = self.state(*id);
            stock.stays.iter().any(|stay| stay.tank == Some(tank) && is_there(stock, stay, at, Side::Within))
        };
        self.room.stocks.keys().copied().filter(here).collect()
    }

    /// All that shared water with the fish of a stock within the time for which water stays a unit's.
    fn company(&self, stock: StockId, at: At) -> BTreeSet<StockId> {
        let water = self.held(stock).map_or(0, |held| held.terms.water());
        let since = at.seconds() - water;
        let mut all: BTreeSet<StockId> = [stock].into();
        for (i, then) in self.walked.iter().enumerate() {
            let next = self.walked.get(i + 1);
            let mut looks = Vec::new();
            if then.seconds() >= since {
                looks.extend(waters(self.room, *then, Side::Within));
            }
            if next.is_some_and(|next| next.seconds() > since) {
                looks.extend(waters(self.room, *then, Side::After));
            }
            if looks.is_empty() {
                continue;
            }
            let ours = were(self.room, stock, (*then, at));
            for other in self.room.stocks.keys() {
                let theirs = were(self.room, *other, (*then, at));
                let met = |w: &Water| !w.stocks.is_disjoint(&ours) && !w.stocks.is_disjoint(&theirs);
                if looks.iter().any(met) {
                    all.insert(*other);
                }
            }
        }
        all
    }

    /// A treatment is over for whoever is in no treated water any more.
    pub(super) fn untreat(&mut self, at: At, waters: &[Water], runs: Runs) {
        for stock in self.standing.keys().copied().collect::<Vec<_>>() {
            let now = water_of(waters, stock).is_some_and(|water| self.is_treated(water, at, runs));
            let Some(held) = self.held_mut(stock) else { continue };
            if held.under && !now {
                held.again(at);
            }
            held.under = now;
        }
    }

    /// Treatments of an instant begin, then end.
    fn treat(&mut self, at: At, within: &[Water]) {
        self.untreat(at, within, Runs::Within);
        for water in within {
            let at_once = self.is_treated(water, at, Runs::AtOnce);
            for stock in water.stocks.iter().filter(|_| at_once) {
                if let Some(held) = self.held_mut(*stock) {
                    held.again(at);
                }
            }
        }
        self.untreat(at, within, Runs::After);
    }

    /// Whether a treatment runs in a water.
    pub(super) fn is_treated(&self, water: &Water, at: At, runs: Runs) -> bool {
        let runs = |t: &&&TreatmentState| {
            let (Some(from), until) = (t.from, t.until.map(|(until, _)| until)) else { return false };
            match runs {
                Runs::Before => from < at && until.is_none_or(|until| until >= at),
                Runs::Within => from <= at && until.is_none_or(|until| until >= at),
                Runs::After => from <= at && until.is_none_or(|until| until > at),
                Runs::AtOnce => from == at && until == Some(at),
            }
        };
        self.room.treatments.values().filter(runs).any(|t| is_in(t, water))
    }

    /// Somebody looked.
    pub(super) fn look(&mut self, at: At) {
        for evidence in self.room.evidence {
            let Evidence::Look { at: when, tanks } = evidence else { continue };
            if *when != at {
                continue;
            }
            for stock in tanks.iter().flat_map(|tank| self.in_tank(*tank, at)).collect::<BTreeSet<_>>() {
                if let Some(held) = self.held_mut(stock) {
                    held.look(stock, at);
                }
            }
        }
    }
}

fn is_in(treatment: &TreatmentState, water: &Water) -> bool {
    let anchor = treatment.system.map(Node::Sump).or(treatment.tank.map(Node::Tank));
    anchor.is_some_and(|anchor| water.nodes.contains(&anchor))
}
