//! One stock in quarantine: its clock, and what goes along with its fish.

use std::sync::Arc;

use super::facts::Opening;
use super::taint::{Gap, Taint};
use crate::clubs::{Rule, SharedWater};
use crate::streams::{At, Days, OpId, StockId};

/// Why a stock is a member.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cause {
    /// It came in.
    Introduced,
    /// It began to share water with a unit.
    Breach,
    /// It was put to a unit on purpose.
    Companion,
    /// It was split off a member, or born in the unit.
    Descent,
}

impl Cause {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Introduced => "introduced",
            Self::Breach => "breach",
            Self::Companion => "companion",
            Self::Descent => "descent",
        }
    }
}

/// Why the days began, or began again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// These fish went into the water.
    Arrived(StockId),
    /// Home fish began to share the water.
    Breached(StockId),
    /// A sign of disease.
    Sign(OpId),
    /// A loss nobody can explain, or fewer fish at a count.
    Loss(OpId),
    /// A treatment ended, for these fish at least.
    Treatment(Option<OpId>),
    /// The keeper began them again.
    Keeper(OpId),
}

impl Why {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Arrived(_) => "arrived",
            Self::Breached(_) => "breached",
            Self::Sign(_) => "sign",
            Self::Loss(_) => "loss",
            Self::Treatment(_) => "treatment",
            Self::Keeper(_) => "keeper",
        }
    }
}

/// The days began at an instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Run {
    /// When.
    pub start: At,
    /// Why.
    pub why: Why,
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
    /// Every time its days began, the first first.
    pub runs: Vec<Run>,
    /// When its quarantine opened, which says whose rule it runs under.
    pub opened: Opening,
    /// When the quarantines opened of fish that joined it.
    pub(super) also_opened: Vec<Opening>,
    /// The rule it runs under.
    pub rule: Arc<Rule>,
    /// When somebody last looked, or its clock last started.
    pub last_look: At,
    pub(super) taint: Taint,
    /// Whether its water is being treated.
    pub(super) under: bool,
}

impl Member {
    /// Takes on what comes with another's fish or water: the later start and due day, the longer period, the stricter
    /// rule.
    pub(super) fn take_on(&mut self, other: &Terms) {
        self.days = self.days.max(other.days);
        self.due = self.due.max(other.due);
        self.bind(&other.rule);
        if other.start > self.start {
            self.start = other.start;
            self.runs.extend(other.run);
            self.settle();
        }
        if self.rule.shared_water == SharedWater::Restart {
            self.due = self.due.max(self.start.plus(self.days));
        }
    }

    pub(super) fn bind(&mut self, rule: &Arc<Rule>) {
        if !Arc::ptr_eq(&self.rule, rule) && self.rule != *rule {
            self.rule = Arc::new(Rule::clone(&self.rule).strictest(Rule::clone(rule)));
        }
    }

    /// Runs under another rule too. Its own days may become more, never fewer.
    pub(super) fn also_under(&mut self, rule: &Arc<Rule>, days: Days) {
        self.days = self.days.max(days);
        self.due = self.due.max(self.start.plus(days));
        self.bind(rule);
    }

    /// Fish of another quarantine are among these.
    pub(super) fn with_openings(&mut self, others: impl IntoIterator<Item = Opening>) {
        for opening in others {
            if self.opened != opening && !self.also_opened.contains(&opening) {
                self.also_opened.push(opening);
            }
        }
    }

    /// Every quarantine that fish of this stock are in.
    pub(super) fn openings(&self) -> impl Iterator<Item = Opening> + '_ {
        self.also_opened.iter().copied().chain([self.opened])
    }

    /// When the first of them opened.
    pub(super) fn first_opened(&self) -> At {
        self.openings().map(|opening| opening.at).min().unwrap_or(self.opened.at)
    }

    /// Starts again; never earlier than it did.
    pub(super) fn restart(&mut self, at: At, why: Why) {
        if at > self.start {
            self.start = at;
            self.runs.push(Run { start: at, why });
            self.settle();
        }
        self.due = self.due.max(self.start.plus(self.days));
    }

    /// After a later start: what lies before it no longer matters.
    fn settle(&mut self) {
        self.last_look = self.last_look.max(self.start);
        self.taint.after(self.start, self.longest_gap());
    }

    /// The longest time without a look that its rule allows, in seconds.
    pub(super) fn longest_gap(&self) -> i64 {
        i64::from(self.rule.observe_every_days.0) * 86_400
    }

    /// The time since the last look, if it is too long by now.
    pub(super) fn unseen(&self, at: At) -> Option<Gap> {
        let gap = Gap { from: self.last_look, until: at, stock: self.stock };
        (gap.seconds() > self.longest_gap()).then_some(gap)
    }

    /// What others take on from it.
    pub(super) fn terms(&self) -> Terms {
        Terms {
            start: self.start,
            days: self.days,
            due: self.due,
            rule: self.rule.clone(),
            run: self.runs.last().copied(),
        }
    }
}

/// What a water, or fish in it, hands on to whatever shares it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Terms {
    pub start: At,
    pub days: Days,
    pub due: At,
    pub rule: Arc<Rule>,
    /// The last time the days began.
    pub run: Option<Run>,
}

impl Terms {
    /// Takes on others' terms.
    pub fn join(&mut self, other: &Self) {
        if other.start > self.start {
            (self.start, self.run) = (other.start, other.run);
        }
        self.days = self.days.max(other.days);
        self.due = self.due.max(other.due);
        if !Arc::ptr_eq(&self.rule, &other.rule) && self.rule != other.rule {
            self.rule = Arc::new(Rule::clone(&self.rule).strictest(Rule::clone(&other.rule)));
        }
        if self.rule.shared_water == SharedWater::Restart {
            self.due = self.due.max(self.start.plus(self.days));
        }
    }
}
