//! What clings to fish besides the days: gaps between looks, and entries that a steward has to let pass. Shared with
//! the water, so that nobody gets rid of it by moving, splitting or dying.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::streams::{At, OpId, StockId};

/// Nobody looked at a stock from then to then.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Gap {
    /// After this look, or the start.
    pub from: At,
    /// Until this look, or now.
    pub until: At,
    /// At which.
    pub stock: StockId,
}

impl Gap {
    /// How long, in seconds.
    pub fn seconds(self) -> i64 {
        self.until.seconds() - self.from.seconds()
    }
}

/// What a steward has to let pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum MarkKind {
    /// A count found more fish than the records.
    FoundMore,
    /// Many of a stock were lost under named causes, or given away, within its clock.
    ManyNamed,
}

/// A mark on a unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Mark {
    /// What.
    pub kind: MarkKind,
    /// Of which stock.
    pub stock: StockId,
    /// The entry.
    pub op: OpId,
    /// When.
    pub at: At,
}

/// Gaps and marks. Those who share a water have nearly the same: all but the time that each of them was itself not
/// looked at up to now, which it is told of by its last look. So they share one list, of which each leaves out one gap.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Taint {
    all: Arc<Clinging>,
    but: Option<Key>,
}

/// A gap, by the stock and when it began.
type Key = (StockId, At);

fn key(gap: Gap) -> Key {
    (gap.stock, gap.from)
}

fn gap((&(stock, from), &until): (&Key, &At)) -> Gap {
    Gap { from, until, stock }
}

#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Clinging {
    /// Until when.
    gaps: BTreeMap<Key, At>,
    marks: BTreeMap<(MarkKind, StockId, Option<OpId>), Mark>,
}

impl Taint {
    pub fn is_clean(&self) -> bool {
        self.all.marks.is_empty() && self.gaps().next().is_none()
    }

    /// Takes on another's if that is of the very same list, which is known without looking at what is in it. Whether
    /// it is.
    pub fn takes_in(&mut self, other: &Self) -> bool {
        let same = Arc::ptr_eq(&self.all, &other.all);
        if same && self.but != other.but {
            self.but = None;
        }
        same
    }

    /// What one stock has of a list that all in its water share: of gaps at itself those that it had, no others.
    pub fn of_shared(all: &Self, old: &Self, stock: StockId) -> Self {
        let mut new = all.clone();
        let had: Vec<Gap> = old.gaps_at(stock).collect();
        let mut more = all.gaps_at(stock).filter(|gap| !had.contains(gap));
        match (more.next(), more.next()) {
            (None, _) => {}
            (Some(one), None) if all.gaps_at(stock).count() == had.len() + 1 => new.but = Some(key(one)),
            _ => {
                let gaps = &mut Arc::make_mut(&mut new.all).gaps;
                gaps.retain(|(there, _), _| *there != stock);
                gaps.extend(had.into_iter().map(|gap| (key(gap), gap.until)));
            }
        }
        new
    }

    /// The gaps at a stock.
    fn gaps_at(&self, stock: StockId) -> impl Iterator<Item = Gap> + '_ {
        let there = self.all.gaps.range((stock, At::FIRST)..=(stock, At::LAST));
        there.filter(|(key, _)| Some(**key) != self.but).map(gap)
    }

    /// The gaps, stock by stock.
    pub fn gaps(&self) -> impl Iterator<Item = Gap> + '_ {
        self.all.gaps.iter().filter(|(key, _)| Some(**key) != self.but).map(gap)
    }

    /// The marks.
    pub fn marks(&self) -> impl Iterator<Item = &Mark> {
        self.all.marks.values()
    }

    pub fn mark(&mut self, mark: Mark) {
        Arc::make_mut(&mut self.all).mark(mark);
    }

    /// Drops what lies before a start. A gap that is cut by it counts only if what is left is still too long.
    pub fn after(&mut self, start: At, longest: i64) {
        let mut after = Self::default();
        after.join(self, start, longest);
        *self = after;
    }

    /// Adds a gap, as far as it lies after a start.
    pub fn gap(&mut self, gap: Gap, start: At, longest: i64) {
        let cut = Gap { from: gap.from.max(start), ..gap };
        if gap.until > start && (cut == gap || cut.seconds() > longest) {
            let key = key(cut);
            let all = Arc::make_mut(&mut self.all);
            if self.but == Some(key) {
                self.but = None;
                all.gaps.remove(&key);
            }
            let until = all.gaps.entry(key).or_insert(cut.until);
            *until = cut.until.max(*until);
        }
    }

    /// Takes on another's, as far as it lies after a start.
    pub fn join(&mut self, other: &Self, start: At, longest: i64) {
        other.gaps().for_each(|gap| self.gap(gap, start, longest));
        for mark in other.marks().filter(|mark| mark.kind == MarkKind::FoundMore || mark.at >= start) {
            self.mark(*mark);
        }
    }
}

impl Clinging {
    fn mark(&mut self, mark: Mark) {
        // Of many losses only the last entry is named; every count is looked at by itself.
        let key = (mark.kind, mark.stock, (mark.kind == MarkKind::FoundMore).then_some(mark.op));
        let there = self.marks.entry(key).or_insert(mark);
        if (mark.at, mark.op) > (there.at, there.op) {
            *there = mark;
        }
    }
}
