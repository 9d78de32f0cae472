//! What clings to fish besides the days: gaps between looks, and entries that a steward has to let pass. Shared with
//! the water, so that nobody gets rid of it by moving, splitting or dying.

use std::collections::BTreeMap;

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

/// Gaps and marks.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Taint {
    /// From when, at which stock: until when.
    gaps: BTreeMap<(At, StockId), At>,
    marks: BTreeMap<(MarkKind, StockId, Option<OpId>), Mark>,
}

impl Taint {
    pub fn is_clean(&self) -> bool {
        self.gaps.is_empty() && self.marks.is_empty()
    }

    /// The gaps, the first first.
    pub fn gaps(&self) -> impl Iterator<Item = Gap> + '_ {
        self.gaps.iter().map(|(&(from, stock), &until)| Gap { from, until, stock })
    }

    /// The marks.
    pub fn marks(&self) -> impl Iterator<Item = &Mark> {
        self.marks.values()
    }

    pub fn mark(&mut self, mark: Mark) {
        // Of many losses only the last entry is named; every count is looked at by itself.
        let key = (mark.kind, mark.stock, (mark.kind == MarkKind::FoundMore).then_some(mark.op));
        let there = self.marks.entry(key).or_insert(mark);
        if (mark.at, mark.op) > (there.at, there.op) {
            *there = mark;
        }
    }

    /// Drops what lies before a start. A gap that is cut by it counts only if what is left is still too long.
    pub fn after(&mut self, start: At, longest: i64) {
        if self.is_clean() {
            return;
        }
        for ((from, stock), until) in std::mem::take(&mut self.gaps) {
            self.gap(Gap { from, until, stock }, start, longest);
        }
        self.marks.retain(|_, mark| mark.kind == MarkKind::FoundMore || mark.at >= start);
    }

    /// Adds a gap, as far as it lies after a start.
    pub fn gap(&mut self, gap: Gap, start: At, longest: i64) {
        let cut = Gap { from: gap.from.max(start), ..gap };
        if gap.until > start && (cut == gap || cut.seconds() > longest) {
            let until = self.gaps.entry((cut.from, cut.stock)).or_insert(cut.until);
            *until = cut.until.max(*until);
        }
    }

    /// Takes on another's, but for gaps at a stock that has its own anyway.
    pub fn join(&mut self, other: &Self, (start, longest): (At, i64), own: Option<StockId>) {
        for gap in other.gaps().filter(|gap| Some(gap.stock) != own) {
            self.gap(gap, start, longest);
        }
        for mark in other.marks.values() {
            if mark.kind == MarkKind::FoundMore || mark.at >= start {
                self.mark(*mark);
            }
        }
    }
}
