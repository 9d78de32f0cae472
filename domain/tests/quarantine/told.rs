//! What both readings must say of a room, in one form.

use std::collections::{BTreeMap, BTreeSet};

use tarn_domain::quarantine::{Gap, Reading, RestartOn, SharedWater, Unit, UnitState};
use tarn_domain::streams::{At, OpId, StockId, TankId};

use super::events::Runs;
use super::held::{Held, Mark, latest_marks};
use super::waters::{Node, Side, Water, waters};
use super::{Slow, Standing};

/// A unit. Without a start it is in the bag.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct ToldUnit {
    pub members: BTreeSet<StockId>,
    pub start: Option<At>,
    pub due: Option<At>,
    pub days: u16,
    pub state: UnitState,
    pub tanks: BTreeSet<TankId>,
    pub shared: SharedWater,
    pub restart_on: BTreeSet<RestartOn>,
    /// The last time without a look that is in the way, of each stock.
    pub gaps: BTreeMap<StockId, At>,
    pub marks: BTreeSet<Mark>,
}

/// A whole reading.
#[derive(Debug, PartialEq, Eq)]
pub struct Told {
    pub units: BTreeSet<ToldUnit>,
    pub waits: BTreeMap<StockId, At>,
    pub unemptied: BTreeSet<OpId>,
}

/// What the clock says.
pub fn told_of(reading: &Reading) -> Told {
    Told {
        units: reading.units.iter().map(told_unit).collect(),
        waits: reading.waits.clone(),
        unemptied: reading.unemptied.iter().copied().collect(),
    }
}

fn told_unit(unit: &Unit) -> ToldUnit {
    let mut gaps = BTreeMap::new();
    for Gap { until, stock, .. } in &unit.gaps {
        latest(&mut gaps, *stock, *until);
    }
    ToldUnit {
        members: unit.members.iter().map(|member| member.stock).collect(),
        start: unit.start,
        due: unit.due,
        days: unit.days.0,
        state: unit.state,
        tanks: unit.tanks.iter().copied().collect(),
        shared: unit.shared_water,
        restart_on: unit.rule.restart_on.clone(),
        gaps,
        marks: unit.marks.iter().map(|mark| (mark.kind, mark.stock, mark.op, mark.at)).collect(),
    }
}

fn latest(gaps: &mut BTreeMap<StockId, At>, stock: StockId, until: At) {
    let mine = gaps.entry(stock).or_insert(until);
    *mine = (*mine).max(until);
}

/// What the slow reading says.
pub fn told(slow: &Slow<'_>, now: At) -> Told {
    let last = slow.walked.last().copied().unwrap_or(now);
    let there = waters(slow.room, last, Side::After);
    let here: BTreeSet<StockId> = there.iter().flat_map(|water| water.stocks.iter().copied()).collect();
    Told {
        units: there.iter().filter_map(|water| slow.unit(water, now)).collect(),
        waits: slow
            .waits
            .iter()
            .filter(|(id, until)| here.contains(id) && **until > now)
            .map(|(id, at)| (*id, *at))
            .collect(),
        unemptied: slow.unemptied.clone(),
    }
}

impl Slow<'_> {
    fn unit(&self, water: &Water, now: At) -> Option<ToldUnit> {
        if let [stock] = water.stocks.iter().copied().collect::<Vec<_>>()[..]
            && let Some(Standing::Sealed(held)) = self.standing.get(&stock)
        {
            return Some(self.bag(stock, held.as_ref(), now));
        }
        let members: Vec<(StockId, &Held)> =
            water.stocks.iter().filter_map(|stock| Some((*stock, self.held(*stock)?))).collect();
        let mut all = members.first()?.1.terms.clone();
        let (mut gaps, mut marks) = (BTreeMap::new(), BTreeSet::new());
        for (stock, held) in &members {
            all.join(&held.terms);
            for gap in held.gaps.iter().copied().chain(held.running(*stock, now)) {
                if !self.is_gap_waived(gap) {
                    latest(&mut gaps, gap.2, gap.1);
                }
            }
            marks.extend(&held.marks);
        }
        let marks = latest_marks(&marks).into_iter().filter(|mark| !self.is_mark_waived(*mark)).collect();
        let treated = self.is_treated(water, now, Runs::After);
        let state = match () {
            () if members.iter().any(|(stock, _)| self.recalled.contains(stock)) => UnitState::Recalled,
            () if treated => UnitState::Treating,
            () if now >= all.due => UnitState::Due,
            () => UnitState::Running,
        };
        Some(ToldUnit {
            members: members.iter().map(|(stock, _)| *stock).collect(),
            start: Some(all.start),
            due: Some(all.due).filter(|_| !treated),
            days: all.days,
            state,
            tanks: water.nodes.iter().copied().filter_map(Node::tank).collect(),
            shared: all.rule.shared_water,
            restart_on: all.rule.restart_on.clone(),
            gaps,
            marks,
        })
    }

    fn bag(&self, stock: StockId, held: Option<&Held>, now: At) -> ToldUnit {
        let state = self.state(stock);
        let (since, made) = state.since.zip(state.made).expect("it came in");
        let rule = held.map_or_else(
            || self.room.facts.rule_for(self.opening(since, made), now),
            |held| (*held.terms.rule).clone(),
        );
        ToldUnit {
            members: [stock].into(),
            start: None,
            due: None,
            days: held.map_or_else(|| self.days(&rule, stock), |held| held.terms.days),
            state: UnitState::InTheBag,
            tanks: BTreeSet::new(),
            shared: rule.shared_water,
            restart_on: rule.restart_on,
            gaps: BTreeMap::new(),
            marks: BTreeSet::new(),
        }
    }
}
