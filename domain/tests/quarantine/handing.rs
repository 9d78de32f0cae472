//! The slow reading of splits and merges: what fish take along into another stock.

use std::collections::BTreeMap;

use tarn_domain::quarantine::Opening;
use tarn_domain::rooms::{Came, TurnKind};
use tarn_domain::streams::{At, OpId, StockId};

use super::held::Held;
use super::{Slow, Standing};

type Pair = (StockId, StockId);

impl Slow<'_> {
    /// Splits and merges of an instant.
    pub(super) fn hand_on(&mut self, at: At) {
        let mut splits: Vec<Pair> = Vec::new();
        let mut merges: Vec<Pair> = Vec::new();
        for (id, stock) in &self.room.stocks {
            if let (Some(Came::Split { of }), Some(since)) = (&stock.came, stock.since)
                && self.there(*of, since) == at
            {
                splits.push((*of, *id));
            }
            let now = stock.joined.iter().filter(|(when, from)| self.there(*from, *when) == at);
            merges.extend(now.map(|(_, from)| (*from, *id)));
        }
        self.hand_on_birth(at, &splits, &merges);
        self.hand_on_waits(at, &splits, &merges);
        // As often as a chain can be long.
        for _ in 0..splits.len() {
            for (of, new) in &splits {
                if let (Some(whole), None) = (self.standing.get(of), self.standing.get(new)) {
                    self.standing.insert(*new, whole.clone());
                }
            }
        }
        for (_, new) in &splits {
            // Dated before the bag that it is of, it is in water already.
            let swims = self.state(*new).stays.iter().any(|stay| {
                stay.tank.is_some() && stay.from < at && stay.until.is_none_or(|until| until > at)
            });
            if let (true, true, Some(made)) = (self.is_sealed(*new), swims, self.state(*new).made) {
                self.wet(*new, at, made, true);
            }
        }
        for _ in 0..merges.len() {
            for (from, into) in &merges {
                let doubted = self.held(*from).is_some_and(|held| held.doubted);
                if !self.is_sealed(*into) && (self.is_sealed(*from) || doubted) {
                    self.wet(*from, at, self.merge(*from, *into, at), true);
                }
            }
        }
        loop {
            let old = self.standing.clone();
            let was = |stock: StockId| match old.get(&stock) {
                Some(Standing::Held(held) | Standing::Sealed(Some(held))) => Some(held.clone()),
                _ => None,
            };
            for (of, new) in &splits {
                if let Some(whole) = was(*of) {
                    self.join(*new, &whole);
                }
            }
            for (from, into) in &merges {
                match (was(*from), was(*into)) {
                    (Some(mut poured), there) => {
                        poured.doubted = false;
                        if there.is_none() && !self.is_sealed(*into) {
                            poured.again(at);
                            poured.open(Opening { at, received: at });
                        }
                        self.join(*into, &poured);
                    }
                    (None, Some(_)) if !self.is_sealed(*from) => {
                        self.held_mut(*into).expect("it was held").again(at);
                    }
                    _ => {}
                }
            }
            if self.standing == old {
                return;
            }
        }
    }

    /// Fish that are held are among those of a stock now.
    fn join(&mut self, stock: StockId, others: &Held) {
        match self.held_mut(stock) {
            Some(held) => held.join(others),
            None => self.hold(stock, others.clone()),
        }
    }

    /// The entry of a merge.
    fn merge(&self, from: StockId, into: StockId, at: At) -> OpId {
        let is = |kind: TurnKind| kind == TurnKind::Joined(from);
        let turn =
            self.state(into).turns.iter().find(|turn| self.there(from, turn.at) == at && is(turn.kind));
        turn.expect("fish joined").op
    }

    /// When fish of a stock were handed on at an instant: never before they were there.
    fn there(&self, of: StockId, at: At) -> At {
        let since = self.room.stocks.get(&of).and_then(|of| of.since);
        since.map_or(at, |since| since.max(at))
    }

    fn hand_on_birth(&mut self, at: At, splits: &[Pair], merges: &[Pair]) {
        for (id, stock) in &self.room.stocks {
            if stock.since == Some(at) && matches!(stock.came, Some(Came::Born { .. })) {
                self.births.insert(*id, at);
            }
        }
        copy(&mut self.births, splits);
        let split = self.births.clone();
        for (from, into) in merges {
            match (split.get(from), self.births.get(into)) {
                (Some(one), Some(other)) => drop(self.births.insert(*into, *one.min(other))),
                _ => drop(self.births.remove(into)),
            }
        }
    }

    fn hand_on_waits(&mut self, at: At, splits: &[Pair], merges: &[Pair]) {
        for (id, stock) in &self.room.stocks {
            let here = matches!(stock.came, Some(Came::Established | Came::Born { .. }));
            if let (true, Some(made)) = (here && stock.since == Some(at), stock.made) {
                self.wait(*id, self.opening(at, made));
            }
        }
        for (id, stock) in &self.room.stocks {
            let mut total = 0;
            for turn in &stock.turns {
                total += turn.change;
                // More than there were: a count that says so, or more that went on than could.
                let more = match turn.kind {
                    TurnKind::Counted => turn.change > 0,
                    TurnKind::Went => total < 0,
                    _ => false,
                };
                if more && turn.at == at {
                    self.wait(*id, self.opening(at, turn.op));
                }
            }
        }
        copy(&mut self.waits, splits);
        let split = self.waits.clone();
        for (from, into) in merges {
            if let Some(until) = split.get(from) {
                let mine = self.waits.entry(*into).or_insert(*until);
                *mine = (*mine).max(*until);
            }
        }
    }

    /// Nobody can vouch for these fish until the days have gone by since the server knows of them.
    fn wait(&mut self, stock: StockId, known: Opening) {
        let rule = self.room.facts.rule_for(known, self.now);
        let until = known.received.plus(rule.min_days);
        let mine = self.waits.entry(stock).or_insert(until);
        *mine = (*mine).max(until);
    }
}

fn copy(of: &mut BTreeMap<StockId, At>, splits: &[Pair]) {
    for _ in 0..splits.len() {
        for (whole, part) in splits {
            if let Some(at) = of.get(whole).copied() {
                let mine = of.entry(*part).or_insert(at);
                *mine = (*mine).max(at);
            }
        }
    }
}
