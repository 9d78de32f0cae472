//! The slow reading of splits and merges: what fish take along into another stock.

use std::collections::BTreeSet;

use tarn_domain::rooms::Came;
use tarn_domain::streams::{At, StockId};

use crate::reference::{Held, Reading, Standing};

impl Reading<'_> {
    /// Splits and merges of an instant.
    pub fn hand_on(&mut self, at: At) {
        let mut splits = Vec::new();
        let mut merges = Vec::new();
        for (id, stock) in &self.room.stocks {
            if let (Some(Came::Split { of }), true) = (&stock.came, stock.since == Some(at)) {
                splits.push((*of, *id));
            }
            merges.extend(stock.joined.iter().filter(|(when, _)| *when == at).map(|(_, from)| (*from, *id)));
        }
        // As often as a chain of splits can be long.
        for _ in 0..splits.len() {
            for (of, new) in &splits {
                if self.is_sealed(*of) && !self.is_sealed(*new) {
                    self.standing.insert(*new, Standing::Sealed(self.held(*new)));
                }
            }
        }
        let mut doubted: BTreeSet<StockId> =
            self.room.stocks.keys().copied().filter(|s| self.held(*s).is_some_and(|h| h.doubted)).collect();
        for _ in 0..splits.len() {
            doubted.extend(
                splits.iter().filter(|(of, _)| doubted.contains(of)).map(|(_, new)| *new).collect::<Vec<_>>(),
            );
        }
        for (from, into) in &merges {
            if !self.is_sealed(*into) {
                let opened = self.is_sealed(*from) || doubted.remove(from);
                if opened {
                    self.wet(*from, at, true);
                }
            }
        }
        loop {
            let before = self.standing.clone();
            let was = |stock: StockId| match before.get(&stock) {
                Some(Standing::Held(held) | Standing::Sealed(Some(held))) => Some(held.clone()),
                _ => None,
            };
            for (of, new) in &splits {
                if let Some(held) = was(*of) {
                    let mut mine = self.held(*new).unwrap_or_else(|| held.clone());
                    mine.join(&held);
                    mine.doubted = doubted.contains(new);
                    self.hold(*new, mine);
                }
            }
            for (from, into) in &merges {
                match (was(*from), was(*into)) {
                    (Some(held), there) => {
                        let met_home = there.is_none() && !self.is_sealed(*into);
                        let mut met = Held { doubted: false, ..held };
                        if there.is_none() {
                            met.opened = at;
                        }
                        if met_home {
                            met.again(at);
                        }
                        let mut mine = self.held(*into).unwrap_or_else(|| met.clone());
                        mine.join(&met);
                        self.hold(*into, mine);
                    }
                    (None, Some(_)) if !self.is_sealed(*from) => {
                        let mut mine = self.held(*into).expect("it was held");
                        mine.again(at);
                        self.hold(*into, mine);
                    }
                    _ => {}
                }
            }
            if self.standing == before {
                return;
            }
        }
    }
}
