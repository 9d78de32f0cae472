//! One stock in quarantine, and what sharing water does to its clock.

use std::sync::Arc;

use crate::clubs::{Rule, SharedWater};
use crate::streams::{At, Days, OpId, StockId};

/// Why a stock is a member.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cause {
    /// It came in.
    Introduced,
    /// It began to share water with a unit.
    Breach,
    /// It was split off a member, or born in the unit.
    Descent,
}

/// A stock in quarantine.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Member {
    /// Which.
    pub stock: StockId,
    /// Why.
    pub cause: Cause,
    /// The op that made the stock.
    pub opened_by: OpId,
    /// Since when it is a member.
    pub since: At,
    /// When its clock last started.
    pub start: At,
    /// How many days it is held: the longest period of all it shared water with.
    pub days: Days,
    /// When its days are done, by itself and all it shared water with.
    pub due: At,
    /// When the quarantine opened whose rule it runs under.
    pub(super) opened: At,
    pub(super) rule: Arc<Rule>,
}

impl Member {
    /// Takes on what comes with another's fish: the later start and due day, the longer period, the stricter rule.
    pub(super) fn take_on(&mut self, other: &Self) {
        self.start = self.start.max(other.start);
        self.days = self.days.max(other.days);
        self.due = self.due.max(other.due);
        self.bind(&other.rule);
        if self.rule.shared_water == SharedWater::Restart {
            self.restart(self.start);
        }
    }

    fn bind(&mut self, rule: &Arc<Rule>) {
        if !Arc::ptr_eq(&self.rule, rule) && self.rule != *rule {
            self.rule = Arc::new(Rule::clone(&self.rule).strictest(Rule::clone(rule)));
        }
    }

    /// Runs under another rule too. Its own days may become more, never fewer.
    pub(super) fn also_under(&mut self, rule: &Arc<Rule>) {
        self.days = self.days.max(rule.min_days);
        self.due = self.due.max(self.start.plus(rule.min_days));
        self.bind(rule);
    }

    /// Starts again; never earlier than it did.
    pub(super) fn restart(&mut self, at: At) {
        self.start = self.start.max(at);
        self.due = self.due.max(self.start.plus(self.days));
    }
}
