//! What fish take along when they become, or join, another stock: splits and merges of one instant.

use std::collections::BTreeMap;

use super::clock::Sweep;
use super::facts::Opening;
use super::member::{Cause, Member, Why};
use super::moment::{Change, Stock};
use crate::streams::At;

impl Sweep<'_> {
    /// Fish take their clock along into another stock. Several at one instant have no order among themselves: each
    /// round goes by how things stood before it, until nothing changes.
    pub(super) fn hand_on(&mut self, at: At, moment: &[(At, Change)]) {
        let splits: Vec<(Stock, Stock)> = moment
            .iter()
            .filter_map(|(_, c)| if let Change::Split(of, new) = *c { Some((of, new)) } else { None })
            .collect();
        let merges: Vec<(Stock, Stock, usize)> = moment
            .iter()
            .filter_map(
                |(_, c)| if let Change::Joined(from, into, i) = *c { Some((from, into, i)) } else { None },
            )
            .collect();
        if splits.is_empty() && merges.is_empty() {
            return;
        }
        let pairs: Vec<(Stock, Stock)> =
            splits.iter().copied().chain(merges.iter().map(|(from, into, _)| (*from, *into))).collect();
        let is_home = |stock: Stock| self.is.members[stock].is_none() && !self.is_in_bag(stock);
        if pairs.iter().all(|(from, into)| is_home(*from) && is_home(*into)) {
            self.is.company.hand_on(&pairs, at);
            return;
        }
        // A part of an unopened bag is one.
        for bags in [&mut self.is.sealed, &mut self.is.doubted] {
            while let Some((_, new)) = splits.iter().find(|(of, new)| bags[*of] && !bags[*new]) {
                bags[*new] = true;
            }
        }
        for &(_, new) in &splits {
            // It may be in water already, if it is dated before the bag.
            if self.is.sealed[new] && self.is.waters.tanks(new).next().is_some() {
                self.open(new, at, self.maker(new), false);
            }
        }
        // Parts of parts of one instant come in no order.
        for _ in &splits {
            for &(of, new) in &splits {
                if self.is.members[new].is_none()
                    && let Some(member) = self.is.members[of].clone()
                {
                    self.give(&member, new, Cause::Descent, at);
                }
            }
        }
        // Poured into water, the whole bag is opened; and what is poured into that one.
        for _ in &merges {
            for &(from, into, turn) in &merges {
                if !self.is.sealed[into] {
                    self.open(from, at, self.states[into].turns[turn].op, false);
                }
            }
        }
        self.is.company.hand_on(&pairs, at);
        loop {
            let parts = splits.iter().flat_map(|(a, b)| [*a, *b]);
            let concerned = parts.chain(merges.iter().flat_map(|(a, b, _)| [*a, *b]));
            let before: BTreeMap<Stock, Option<Box<Member>>> =
                concerned.map(|stock| (stock, self.is.members[stock].clone())).collect();
            for &(of, new) in &splits {
                if let Some(member) = &before[&of] {
                    self.give(member, new, Cause::Descent, at);
                }
            }
            for &(from, into, _) in &merges {
                match (&before[&from], &before[&into]) {
                    (Some(member), Some(_)) => self.give(member, into, Cause::Breach, at),
                    (Some(member), None) => {
                        let mut met = member.clone();
                        if !self.is.sealed[into] {
                            met.restart(at, Why::Breached(self.numbered.stocks[into]));
                        }
                        self.give(&met, into, Cause::Breach, at);
                    }
                    // Home fish come to fish that are held.
                    (None, Some(_)) if !self.is.sealed[from] => {
                        let why = Why::Breached(self.numbered.stocks[from]);
                        if let Some(held) = &mut self.is.members[into] {
                            held.restart(at, why);
                        }
                    }
                    _ => {}
                }
            }
            if before.iter().all(|(stock, member)| self.is.members[*stock] == *member) {
                return;
            }
        }
    }

    fn give(&mut self, member: &Member, to: Stock, cause: Cause, at: At) {
        if let Some(there) = &mut self.is.members[to] {
            there.take_on(&member.terms());
            // Of the looks the older last one counts, of gaps and marks all.
            there.last_look = there.last_look.min(member.last_look).max(there.start);
            let (start, longest) = (there.start, there.longest_gap());
            there.taint.join(&member.taint, start, longest);
            there.under |= member.under;
            there.with_openings(member.openings());
            return;
        }
        let (stock, opened_by) = (self.numbered.stocks[to], self.maker(to));
        let mut new = Member { stock, cause, opened_by, since: at, ..member.clone() };
        if cause == Cause::Breach {
            new.opened = Opening { at, received: at };
            new.with_openings(member.openings());
        }
        self.hold(to, new);
    }
}
