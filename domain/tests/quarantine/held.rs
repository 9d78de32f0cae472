//! The slow reading's clock of one stock: what it is held to, and what joining, starting again and looking do to it.
//! Knows nothing of places.

use std::collections::BTreeSet;
use std::rc::Rc;

use tarn_domain::quarantine::{MarkKind, Opening, Rule, SharedWater};
use tarn_domain::streams::{At, OpId, StockId};

const DAY: i64 = 24 * 3600;

/// So many days of 24 hours later.
pub fn plus(at: At, days: u16) -> At {
    At::from_seconds(at.seconds() + i64::from(days) * DAY)
}

/// What a fish or a water is held to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Terms {
    pub start: At,
    pub due: At,
    pub days: u16,
    pub rule: Rc<Rule>,
}

/// From when until when nobody looked at which stock.
pub type Gap = (At, At, StockId);
/// What a steward has to let pass: of which stock, by which entry, when.
pub type Mark = (MarkKind, StockId, OpId, At);

/// A stock's clock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    pub terms: Terms,
    /// The openings of all quarantines that fish of it are in.
    pub opened: Vec<Opening>,
    pub last_look: At,
    pub gaps: BTreeSet<Gap>,
    pub marks: BTreeSet<Mark>,
    /// It is in water that is treated.
    pub under: bool,
    /// It may have been in water, but no record is sure of it.
    pub doubted: bool,
}

/// The stricter of two rules.
pub fn stricter(one: &Rc<Rule>, other: &Rc<Rule>) -> Rc<Rule> {
    if one == other { one.clone() } else { Rc::new((**one).clone().strictest((**other).clone())) }
}

impl Terms {
    pub fn new(at: At, days: u16, rule: Rc<Rule>) -> Self {
        Self { start: at, due: plus(at, days), days, rule }
    }

    pub fn join(&mut self, other: &Self) {
        self.start = self.start.max(other.start);
        self.due = self.due.max(other.due);
        self.days = self.days.max(other.days);
        self.rule = stricter(&self.rule, &other.rule);
    }

    pub fn restarts(&self) -> bool {
        self.rule.shared_water == SharedWater::Restart
    }

    pub fn water(&self) -> i64 {
        i64::from(self.rule.water_days.0) * DAY
    }
}

/// Of marks about many losses of one stock the latest counts.
pub fn latest_marks(marks: &BTreeSet<Mark>) -> BTreeSet<Mark> {
    let later = |m: &Mark| {
        marks
            .iter()
            .any(|n| n.0 == MarkKind::ManyNamed && (n.0, n.1) == (m.0, m.1) && (n.3, n.2) > (m.3, m.2))
    };
    marks.iter().filter(|m| !later(m)).copied().collect()
}

impl Held {
    pub fn new(at: At, opened: Opening, terms: Terms) -> Self {
        let (gaps, marks) = (BTreeSet::new(), BTreeSet::new());
        Self { terms, opened: vec![opened], last_look: at, gaps, marks, under: false, doubted: false }
    }

    fn longest(&self) -> i64 {
        i64::from(self.terms.rule.observe_every_days.0) * DAY
    }

    /// The time since the last look, if it is too long.
    pub fn running(&self, stock: StockId, now: At) -> Option<Gap> {
        (now.seconds() - self.last_look.seconds() > self.longest()).then_some((self.last_look, now, stock))
    }

    /// The days begin at this instant, unless they began later.
    pub fn again(&mut self, at: At) {
        self.terms.start = self.terms.start.max(at);
        self.terms.due = self.terms.due.max(plus(self.terms.start, self.terms.days));
        self.clip();
    }

    /// What is older than the start doesn't matter any more.
    pub fn clip(&mut self) {
        let start = self.terms.start;
        self.last_look = self.last_look.max(start);
        let gaps = std::mem::take(&mut self.gaps);
        self.gaps = gaps.into_iter().filter_map(|gap| self.clipped(gap)).collect();
        self.marks = latest_marks(&self.marks);
        self.marks.retain(|(kind, _, _, at)| *kind == MarkKind::FoundMore || *at >= start);
    }

    fn clipped(&self, (from, until, stock): Gap) -> Option<Gap> {
        let start = self.terms.start;
        if from >= start {
            return Some((from, until, stock));
        }
        (until.seconds() - start.seconds() > self.longest()).then_some((start, until, stock))
    }

    /// Takes over what others bring along.
    pub fn take_on(&mut self, gaps: &BTreeSet<Gap>, marks: &BTreeSet<Mark>) {
        self.gaps.extend(gaps);
        self.marks.extend(marks);
        self.clip();
    }

    /// Also under another rule.
    pub fn under_rule(&mut self, rule: &Rc<Rule>, days: u16) {
        self.terms.days = self.terms.days.max(days);
        self.terms.due = self.terms.due.max(plus(self.terms.start, days));
        self.terms.rule = stricter(&self.terms.rule, rule);
    }

    /// Fish of one stock among those of another.
    pub fn join(&mut self, other: &Self) {
        self.terms.join(&other.terms);
        self.last_look = self.last_look.min(other.last_look);
        self.under |= other.under;
        for opening in &other.opened {
            self.open(*opening);
        }
        self.take_on(&other.gaps, &other.marks);
    }

    pub fn open(&mut self, opening: Opening) {
        if !self.opened.contains(&opening) {
            self.opened.push(opening);
        }
    }

    pub fn look(&mut self, stock: StockId, at: At) {
        let gap = self.running(stock, at);
        self.gaps.extend(gap);
        self.last_look = at;
    }
}
