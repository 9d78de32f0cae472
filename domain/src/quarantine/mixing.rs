//! What sharing water does: everybody in it becomes a member, and takes on what the others and the water bring.

use super::clock::Sweep;
use super::facts::Opening;
use super::member::{Cause, Member, Run, Terms, Why};
use super::moment::{Stock, Tank};
use super::taint::{Gap, Taint};
use super::water::Shared;
use crate::clubs::SharedWater;
use crate::streams::At;

impl Sweep<'_> {
    /// The waters of these tanks mix as they are at an instant. Under `restart` all go on with the latest start any of
    /// them has; under `wait_for_last` each keeps its own and all wait for the last to be done.
    pub(super) fn mix(&mut self, at: At, touched: &[Tank]) {
        if touched.is_empty() {
            return;
        }
        let home = self.is.held.is_empty() && self.is.residues.is_none(at);
        self.is.waters.look();
        for &tank in touched {
            let Some(water) = self.is.waters.next(tank) else { continue };
            let news = self.is.waters.news(water);
            let shared = self.is.waters.shared(water);
            self.is.company.set(water, &shared.stocks, news, at);
            if !home && (self.is.waters.marked(water) > 0 || self.is.residues.are_in(&shared.tanks)) {
                let shared = shared.clone();
                self.mix_one(&shared, at);
            }
        }
    }

    fn mix_one(&mut self, shared: &Shared, at: At) {
        let treated = shared.tanks.iter().any(|tank| self.is.anchors[*tank] > 0);
        let mut terms: Option<Terms> = None;
        for &stock in &shared.stocks {
            let Some(member) = &mut self.is.members[stock] else { continue };
            if std::mem::replace(&mut member.under, treated) && !treated {
                member.restart(at, Why::Treatment(None));
            }
            join(&mut terms, &member.terms());
        }
        let is_held = terms.is_some();
        for &tank in &shared.tanks {
            if let Some(residue) = self.is.residues.living(tank, at, is_held) {
                join(&mut terms, &residue.terms);
            }
        }
        let Some(mut terms) = terms else { return };
        self.take_in(shared, &mut terms, treated, at);
        for &stock in &shared.stocks {
            let Some(member) = &mut self.is.members[stock] else { continue };
            if terms.rule.shared_water == SharedWater::Restart && terms.start > member.start {
                member.take_on(&terms);
            }
            (member.days, member.due) = (terms.days, terms.due);
            member.bind(&terms.rule);
        }
        self.share_among(&shared.stocks, at);
        self.is.residues.set(&shared.tanks, &terms, !shared.stocks.is_empty(), at);
    }

    /// Home fish in a water that is a unit's are members from then on.
    fn take_in(&mut self, shared: &Shared, terms: &mut Terms, treated: bool, at: At) {
        let latest = terms.start;
        for &stock in &shared.stocks {
            if self.is.members[stock].is_some() {
                continue;
            }
            let id = self.numbered.stocks[stock];
            let born = self.is_born(stock, at);
            let (cause, run) = if born {
                (Cause::Descent, terms.run.unwrap_or(Run { start: latest, why: Why::Arrived(id) }))
            } else {
                let cause = if self.is_companion(stock, at) { Cause::Companion } else { Cause::Breach };
                (cause, Run { start: at, why: Why::Breached(id) })
            };
            let start = if born { latest } else { at };
            let new = Member {
                stock: id,
                cause,
                opened_by: self.maker(stock),
                since: at,
                start,
                days: terms.days,
                due: start.plus(terms.days),
                runs: vec![run],
                opened: Opening { at, received: at },
                also_opened: Vec::new(),
                rule: terms.rule.clone(),
                last_look: at,
                taint: Taint::default(),
                under: treated,
            };
            terms.join(&new.terms());
            self.hold(stock, new);
        }
    }

    /// All that share one of these waters take on each other's gaps and marks.
    pub(super) fn share(&mut self, at: At, tanks: &[Tank]) {
        if self.is.held.is_empty() {
            return;
        }
        self.is.waters.look();
        for &tank in tanks {
            if let Some(water) = self.is.waters.next(tank)
                && self.is.waters.marked(water) > 0
            {
                let stocks = self.is.waters.shared(water).stocks.clone();
                self.share_among(&stocks, at);
            }
        }
    }

    fn share_among(&mut self, stocks: &[Stock], at: At) {
        if stocks.len() < 2 {
            return;
        }
        // Each list once.
        let mut taints: Vec<Taint> = Vec::new();
        let mut running: Vec<Gap> = Vec::new();
        for member in stocks.iter().filter_map(|stock| self.is.members[*stock].as_ref()) {
            if !taints.iter_mut().any(|taint| taint.takes_in(&member.taint)) {
                taints.push(member.taint.clone());
            }
            running.extend(member.unseen(at));
        }
        if running.is_empty() && (taints.len() < 2 || taints.iter().all(Taint::is_clean)) {
            return;
        }
        let mut all = Taint::default();
        taints.iter().for_each(|taint| all.join(taint, At::FIRST, 0));
        running.iter().for_each(|gap| all.gap(*gap, At::FIRST, 0));
        // Most of a water began at once, and has the same afterwards.
        let mut cuts: Vec<((At, i64), Taint)> = Vec::new();
        for &stock in stocks {
            let Some(member) = &mut self.is.members[stock] else { continue };
            let by = (member.start, member.longest_gap());
            let cut = match cuts.iter().find(|(there, _)| *there == by) {
                Some((_, cut)) => cut.clone(),
                None => {
                    let mut cut = Taint::default();
                    cut.join(&all, by.0, by.1);
                    cuts.push((by, cut.clone()));
                    cut
                }
            };
            member.taint = Taint::of_shared(&cut, &member.taint, member.stock);
        }
    }
}

fn join(terms: &mut Option<Terms>, more: &Terms) {
    match terms {
        Some(terms) => terms.join(more),
        None => *terms = Some(more.clone()),
    }
}
