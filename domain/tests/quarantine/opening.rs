//! The slow reading of openings: when the clock of fish from outside begins, under whose rule, and for how long.

use std::rc::Rc;

use tarn_domain::quarantine::{Opening, Rule};
use tarn_domain::rooms::Came;
use tarn_domain::streams::{At, OpId, StockId};

use super::held::{Held, Terms};
use super::{Slow, Standing};

impl Slow<'_> {
    /// When something happened, and when that was received.
    pub(super) fn opening(&self, at: At, by: OpId) -> Opening {
        Opening::of(at, (self.room.received)(by))
    }

    /// How long a rule holds fish of this stock. A part of a stock came from where the whole came from.
    pub(super) fn days(&self, rule: &Rule, stock: StockId) -> u16 {
        let (mut at, mut species) = (self.state(stock), None);
        for _ in 0..self.room.stocks.len() {
            species = species.or(at.species.as_deref());
            match at.came {
                Some(Came::Split { of }) if self.room.stocks.contains_key(&of) => at = self.state(of),
                _ => break,
            }
        }
        let source = match &at.came {
            Some(Came::In { from }) => Some(from.word()),
            Some(Came::Parcel { .. }) => Some("parcel"),
            _ => None,
        };
        rule.days_for(source, species).0
    }

    /// Everybody who is held is also held to the rule of a new home club.
    pub(super) fn change_clubs(&mut self, at: At) {
        for (_, club) in self.room.facts.home.iter().filter(|(from, _)| *from == at) {
            let Some(club) = *club else { continue };
            for stock in self.standing.keys().copied().collect::<Vec<_>>() {
                for opening in self.held(stock).map(|held| held.opened.clone()).unwrap_or_default() {
                    let rule = Rc::new(self.room.facts.rule_under(club, opening));
                    let days = self.days(&rule, stock);
                    self.held_mut(stock).expect("held").under_rule(&rule, days);
                }
            }
        }
    }

    /// Openings and stays that begin.
    pub(super) fn open(&mut self, at: At) {
        for (id, stock) in &self.room.stocks {
            for stay in stock.stays.iter().filter(|stay| stay.tank.is_some() && stay.from == at) {
                self.wet(*id, at, stay.by, !stay.doubtful);
            }
        }
    }

    /// Fish go into water, or may have.
    pub(super) fn wet(&mut self, stock: StockId, at: At, by: OpId, sure: bool) {
        let opening = self.opening(at, by);
        let rule = Rc::new(self.room.facts.rule_for(opening, at));
        let days = self.days(&rule, stock);
        let fresh = Held::new(at, opening, Terms::new(at, days, rule.clone()));
        let mut held = match self.standing.get(&stock) {
            Some(Standing::Sealed(None)) => fresh,
            Some(Standing::Sealed(Some(held))) => held.clone(),
            Some(Standing::Held(held)) if held.doubted && sure => held.clone(),
            _ => return,
        };
        held.under_rule(&rule, days);
        held.again(at);
        held.open(opening);
        held.doubted = !sure;
        self.standing.insert(stock, Standing::Held(held));
    }
}
