//! What clings to a unit and no steward has let pass yet.

use std::collections::{BTreeMap, BTreeSet};

use super::facts::RoomFacts;
use super::member::Member;
use super::ops::BlockerKind;
use super::taint::{Gap, Mark, MarkKind, Taint};
use crate::streams::At;

/// Gaps and marks that are in the way.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Open {
    pub gaps: BTreeSet<Gap>,
    pub marks: BTreeSet<Mark>,
}

impl Open {
    pub fn is_clean(&self) -> bool {
        self.gaps.is_empty() && self.marks.is_empty()
    }

    /// Of several gaps at one stock that overlap only the longest is told, and of entries about many losses of one
    /// stock only the last.
    pub fn longest(&mut self) {
        let last = |mark: &Mark| {
            let of = |other: &&Mark| (other.kind, other.stock) == (mark.kind, mark.stock);
            self.marks.iter().filter(of).map(|other| (other.at, other.op)).max()
        };
        let told = |mark: &&Mark| mark.kind == MarkKind::FoundMore || last(mark) == Some((mark.at, mark.op));
        self.marks = self.marks.iter().filter(told).copied().collect();
        let mut longest: BTreeMap<_, Gap> = BTreeMap::new();
        for gap in std::mem::take(&mut self.gaps) {
            let there = longest.entry((gap.stock, gap.until)).or_insert(gap);
            if gap.seconds() > there.seconds() {
                *there = gap;
            }
        }
        self.gaps = longest.into_values().collect();
    }
}

/// What is in the way of the sign-off of these at an instant.
pub(super) fn open_of(members: &[Member], facts: &RoomFacts, at: At) -> Open {
    // Those who share a water share most of their lists: each is gone through once.
    let mut taints: Vec<Taint> = Vec::new();
    for member in members {
        if !taints.iter_mut().any(|taint| taint.takes_in(&member.taint)) {
            taints.push(member.taint.clone());
        }
    }
    let running = members.iter().filter_map(|member| member.unseen(at));
    let gaps = taints.iter().flat_map(Taint::gaps).chain(running);
    let marks = taints.iter().flat_map(Taint::marks);
    Open {
        gaps: gaps.filter(|gap| !is_passed(facts, *gap)).collect(),
        marks: marks.filter(|mark| !is_let_pass(facts, mark)).copied().collect(),
    }
}

fn is_passed(facts: &RoomFacts, gap: Gap) -> bool {
    facts.waived.iter().any(|waiver| {
        waiver.blocker == BlockerKind::ObservationGap
            && waiver.stock == Some(gap.stock)
            && waiver.until.is_some_and(|until| until >= gap.until)
    })
}

fn is_let_pass(facts: &RoomFacts, mark: &Mark) -> bool {
    facts.waived.iter().any(|waiver| match mark.kind {
        MarkKind::FoundMore => waiver.blocker == BlockerKind::FoundMore && waiver.entry == Some(mark.op),
        MarkKind::ManyNamed => {
            waiver.blocker == BlockerKind::ManyNamedLosses
                && waiver.stock == Some(mark.stock)
                && waiver.until.is_some_and(|until| until >= mark.at)
        }
    })
}
