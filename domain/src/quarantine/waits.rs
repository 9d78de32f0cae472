//! How long stock has to wait that nobody can vouch for: what was "always here", young, and fish that a count found.
//! They make no breach, but may not leave before the club's days have passed since the server heard of them.

use std::collections::BTreeMap;

use super::clock::Sweep;
use super::facts::Opening;
use super::moment::{Change, Stock, came_in};
use crate::rooms::{Came, TurnKind};
use crate::streams::{At, OpId};

impl Sweep<'_> {
    /// Birth and waits of what is made at this instant, of counts that find more, and where more went on than were
    /// there; then of parts, then of what joins.
    pub(super) fn made(&mut self, moment: &[(At, Change)]) {
        let mut totals: BTreeMap<Stock, i64> = BTreeMap::new();
        for (_, change) in moment {
            let Change::Turned(stock, i) = *change else { continue };
            let turn = &self.turns[stock][i];
            let mut total = self.totals[stock] + turn.change;
            if moment.len() > 1 {
                let there = totals.entry(stock).or_insert(self.totals[stock]);
                *there += turn.change;
                total = *there;
            }
            match turn.kind {
                TurnKind::Made => self.first(stock, turn.at, turn.op),
                TurnKind::Counted if turn.change > 0 => self.wait(stock, turn.at, turn.op),
                // More went on than were there: a count would have found more.
                TurnKind::Went if total < 0 => self.wait(stock, turn.at, turn.op),
                _ => {}
            }
        }
        let splits: Vec<(Stock, Stock)> = moment
            .iter()
            .filter_map(|(_, c)| if let Change::Split(of, new) = *c { Some((of, new)) } else { None })
            .collect();
        // Parts of parts of one instant come in no order.
        for _ in 0..splits.len() {
            let mut changed = false;
            for &(of, new) in &splits {
                let (born, wait) = (self.born[of], self.waits[new].max(self.waits[of]));
                changed |= (self.born[new], self.waits[new]) != (born, wait);
                (self.born[new], self.waits[new]) = (born, wait);
            }
            if !changed {
                break;
            }
        }
        let before: Vec<(Stock, Stock, Option<At>, Option<At>)> = moment
            .iter()
            .filter_map(|(_, c)| match *c {
                Change::Joined(from, into, _) => Some((from, into, self.born[from], self.waits[from])),
                _ => None,
            })
            .collect();
        for (from, into, born, wait) in before {
            if from != into {
                self.born[into] = self.born[into].zip(born).map(|(a, b)| a.min(b));
                self.waits[into] = self.waits[into].max(wait);
            }
        }
    }

    /// The first fish of a stock. Those that came in have a clock, and a part waits as its whole does.
    fn first(&mut self, stock: Stock, at: At, entry: OpId) {
        let state = self.states[stock];
        if matches!(state.came, Some(Came::Split { .. })) || came_in(state) {
            return;
        }
        if matches!(state.came, Some(Came::Born { .. })) {
            self.born[stock] = Some(at);
        }
        self.wait(stock, at, entry);
    }

    fn wait(&mut self, stock: Stock, at: At, entry: OpId) {
        let received = (self.room.received)(entry);
        let since = At::from_seconds(received.0.div_euclid(1000));
        if since.plus(self.longest_wait) <= self.now {
            return;
        }
        let opening = Opening::of(at, received);
        let days = self.room.facts.rule_for(opening, self.now).min_days;
        let until = since.plus(days);
        self.waits[stock] = self.waits[stock].max(Some(until));
    }
}
