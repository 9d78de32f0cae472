//! How long stock has to wait that nobody can vouch for: what was "always here", young, and fish that a count found.
//! They make no breach, but may not leave before the club's days have passed since the server heard of them.

use super::clock::Sweep;
use super::facts::Opening;
use super::moment::{Change, Stock};
use crate::rooms::{Came, TurnKind};
use crate::streams::{At, OpId};

impl Sweep<'_> {
    /// Birth and waits of what is made at this instant, of counts that find more, and where more went on than were
    /// there; then of parts, then of what joins.
    pub(super) fn made(&mut self, moment: &[(At, Change)]) {
        for (_, change) in moment {
            if let Change::Turned(stock, i, true) = *change {
                let turn = self.turns[stock][i];
                if turn.kind == TurnKind::Made && matches!(self.states[stock].came, Some(Came::Born { .. })) {
                    self.is.born[stock] = Some(turn.at);
                }
                self.wait(stock, turn.at, turn.op);
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
                let (born, wait) = (self.is.born[of], self.is.waits[new].max(self.is.waits[of]));
                changed |= (self.is.born[new], self.is.waits[new]) != (born, wait);
                (self.is.born[new], self.is.waits[new]) = (born, wait);
            }
            if !changed {
                break;
            }
        }
        let before: Vec<(Stock, Stock, Option<At>, Option<At>)> = moment
            .iter()
            .filter_map(|(_, c)| match *c {
                Change::Joined(from, into, _) => Some((from, into, self.is.born[from], self.is.waits[from])),
                _ => None,
            })
            .collect();
        for (from, into, born, wait) in before {
            if from != into {
                self.is.born[into] = self.is.born[into].zip(born).map(|(a, b)| a.min(b));
                self.is.waits[into] = self.is.waits[into].max(wait);
            }
        }
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
        self.is.waits[stock] = self.is.waits[stock].max(Some(until));
    }
}
