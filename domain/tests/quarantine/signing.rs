//! The slow reading of sign-offs: whether one held when it was given, and whom it frees.

use std::collections::BTreeSet;

use tarn_domain::quarantine::{BlockerKind, MarkKind};
use tarn_domain::streams::{At, ClubId, StockId};

use super::events::Runs;
use super::held::{Gap, Mark};
use super::waters::Water;
use super::{Signature, Slow, Standing};

impl Slow<'_> {
    /// Whether a steward let a gap pass.
    pub(super) fn is_gap_waived(&self, (_, until, stock): Gap) -> bool {
        self.room.facts.waived.iter().any(|w| {
            w.blocker == BlockerKind::ObservationGap
                && w.stock == Some(stock)
                && w.until.is_some_and(|then| then >= until)
        })
    }

    /// Whether a steward let a mark pass.
    pub(super) fn is_mark_waived(&self, (kind, stock, op, at): Mark) -> bool {
        self.room.facts.waived.iter().any(|w| match kind {
            MarkKind::FoundMore => w.blocker == BlockerKind::FoundMore && w.entry == Some(op),
            MarkKind::ManyNamed => {
                w.blocker == BlockerKind::ManyNamedLosses
                    && w.stock == Some(stock)
                    && w.until.is_some_and(|then| then >= at)
            }
        })
    }

    /// Sign-offs of an instant.
    pub(super) fn sign(&mut self, at: At, after: &[Water]) {
        for signed in self.room.facts.signed.iter().filter(|s| s.at == at) {
            let members: BTreeSet<StockId> = signed.says.members.iter().copied().collect();
            let Some(water) = after.iter().find(|water| !members.is_empty() && water.stocks == members)
            else {
                self.recalled.extend(&members);
                continue;
            };
            if self.is_treated(water, at, Runs::After)
                || !members.iter().all(|stock| self.is_ready(*stock, at))
            {
                self.recalled.extend(&members);
                continue;
            }
            self.signatures.push(Signature { club: signed.says.club, members: members.clone(), at });
            if self.all_signed(&members, at) {
                self.standing.retain(|stock, _| !members.contains(stock));
                self.recalled.retain(|stock| !members.contains(stock));
                self.residues.retain(|node, _| !water.nodes.contains(node));
            }
        }
    }

    /// Whether a stock's days are done, and nothing is in the way.
    fn is_ready(&self, stock: StockId, at: At) -> bool {
        let Some(Standing::Held(held)) = self.standing.get(&stock) else { return false };
        let gaps = held.gaps.iter().copied().chain(held.running(stock, at));
        held.terms.due <= at
            && gaps.into_iter().all(|gap| self.is_gap_waived(gap))
            && held.marks.iter().all(|mark| self.is_mark_waived(*mark))
    }

    /// Whether every club that has to has signed for these fish, and nothing began again since the first did.
    fn all_signed(&self, members: &BTreeSet<StockId>, at: At) -> bool {
        let held: Vec<_> = members.iter().filter_map(|stock| self.held(*stock)).collect();
        let began = held.iter().map(|held| held.terms.start).max();
        let needed: BTreeSet<ClubId> = held
            .iter()
            .flat_map(|held| &held.opened)
            .flat_map(|o| self.room.facts.clubs_between(o.at, at))
            .collect();
        let good = |s: &&Signature| s.members == *members && Some(s.at) >= began;
        let by: BTreeSet<ClubId> = self.signatures.iter().filter(good).map(|s| s.club).collect();
        needed.is_subset(&by)
    }
}
