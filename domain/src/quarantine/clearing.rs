//! What a sign-off does: it frees a whole unit and the water that its fish are in.

use std::collections::BTreeSet;

use super::clock::Sweep;
use super::moment::Stock;
use super::view::SignOffs;
use crate::streams::{At, ClubId, StockId};

impl Sweep<'_> {
    /// A sign-off. One that was recalled, or that the records don't bear out, counts as never given.
    pub(super) fn sign(&mut self, i: usize) {
        let signed = &self.room.facts.signed[i];
        let known: BTreeSet<StockId> = signed.says.members.iter().copied().collect();
        let named: Option<Vec<Stock>> = known.iter().map(|id| self.numbered.stock(*id)).collect();
        let Some(named) = named.filter(|named| !named.is_empty()) else { return };
        let counts = match self.room.signed {
            SignOffs::Known(recalled) => !recalled.contains(&signed.op),
            SignOffs::Verify => self.bears_out(&named, signed.at),
        };
        if !counts {
            for &stock in &named {
                self.is.recalled[stock] = Some(signed.op);
            }
            return;
        }
        self.is.signatures.push((i, named.clone()));
        if self.is_complete(&named, signed.at) {
            self.free(&named);
        }
    }

    /// Whether these may be signed off at an instant: they are a whole unit, due, and nothing is in the way that a
    /// steward has not let pass.
    pub(super) fn bears_out(&mut self, named: &[Stock], at: At) -> bool {
        let shared = self.is.waters.with(named[0]);
        if shared.stocks != named || shared.tanks.iter().any(|tank| self.is.anchors[*tank] > 0) {
            return false;
        }
        let facts = self.room.facts;
        named.iter().all(|stock| {
            let Some(member) = self.is.members[*stock].as_ref().filter(|_| !self.is.sealed[*stock]) else {
                return false;
            };
            member.due <= at && super::waived::open_of(std::slice::from_ref(&**member), facts, at).is_clean()
        })
    }

    /// Whether every club that these were under has signed exactly these, and nothing began again since.
    fn is_complete(&self, named: &[Stock], at: At) -> bool {
        let facts = self.room.facts;
        let members = || named.iter().filter_map(|stock| self.is.members[*stock].as_ref());
        let clubs: BTreeSet<ClubId> =
            members().flat_map(|member| facts.clubs_between(member.first_opened(), at)).collect();
        let start = members().map(|member| member.start.max(member.since)).max();
        let signed: BTreeSet<ClubId> = self
            .is
            .signatures
            .iter()
            .filter(|(i, stocks)| stocks == named && start.is_none_or(|start| facts.signed[*i].at >= start))
            .map(|(i, _)| facts.signed[*i].says.club)
            .collect();
        clubs.is_subset(&signed)
    }

    fn free(&mut self, named: &[Stock]) {
        for &stock in named {
            let tanks: Vec<_> = self.is.waters.tanks(stock).collect();
            for tank in tanks {
                let shared = self.is.waters.of_tank(tank);
                self.is.residues.clear(shared.tanks.iter().copied());
            }
        }
        for &stock in named {
            self.is.waters.mark(stock, false);
            self.is.held.remove(&stock);
            self.is.members[stock] = None;
            self.is.doubted[stock] = false;
            self.is.recalled[stock] = None;
        }
    }
}
