//! Treatments, signs, losses, counts, restarts and looks: what happens to fish in a water. Which of them begins the
//! days again is the rule's; nothing here says what made fish ill.

use std::collections::BTreeSet;

use super::clock::Sweep;
use super::member::Why;
use super::moment::{Change, Stock, Tank};
use super::taint::{Mark, MarkKind};
use super::view::Evidence;
use crate::clubs::RestartOn;
use crate::rooms::words::Cause;
use crate::rooms::{TreatmentState, Turn, TurnKind};
use crate::streams::{At, OpId, TankId};

/// Fish that are no longer there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Loss {
    at: At,
    op: OpId,
    n: i64,
    /// Under a named cause, or given away.
    named: bool,
    /// How many were left.
    left: i64,
}

const WEEK: i64 = 7 * 86_400;

/// Whether fish that are no longer there were lost under a named cause, or given away; none if nobody is missing.
/// Disease and "nobody knows" name no cause, nor does culling without a reason; and a steward may judge otherwise.
pub fn is_named_loss(turn: &Turn, judged: &BTreeSet<OpId>) -> Option<bool> {
    let open = match turn.kind {
        TurnKind::Lost { cause: Cause::Unknown | Cause::Disease, .. } | TurnKind::Counted => true,
        TurnKind::Lost { cause: Cause::Culled, reason } => !reason,
        TurnKind::Lost { .. } | TurnKind::Left => false,
        _ => return None,
    };
    (turn.change < 0).then(|| !open && !judged.contains(&turn.op))
}

impl Sweep<'_> {
    /// All that happens to fish after the waters have mixed.
    pub(super) fn tell(&mut self, at: At, moment: &[(At, Change)]) {
        self.treat(at, moment);
        let mut touched: Vec<Tank> = Vec::new();
        for (_, change) in moment {
            match *change {
                Change::Turned(stock, i, _) => self.turn(stock, i, &mut touched),
                Change::Told(i) => match *self.room.evidence[i] {
                    Evidence::Sign { op, stock, tank, .. } => {
                        let fish = match (stock, tank) {
                            (Some(stock), _) => self.numbered.stock(stock).into_iter().collect(),
                            (None, tank) => tank
                                .and_then(|tank| self.numbered.tank(tank))
                                .map_or_else(Vec::new, |tank| self.is.waters.inside(tank).to_vec()),
                        };
                        for stock in fish {
                            self.begin_again(stock, at, RestartOn::Sign, Why::Sign(op), &mut touched);
                        }
                    }
                    Evidence::Restart { op, stock, .. } => {
                        if let Some(stock) = self.numbered.stock(stock) {
                            let all = self.is.waters.with(stock).stocks;
                            self.restart(&all, at, Why::Keeper(op), &mut touched);
                        }
                    }
                    Evidence::Look { .. } => {}
                },
                _ => {}
            }
        }
        self.mix(at, &touched);
        for (_, change) in moment {
            if let Change::Turned(stock, i, _) = *change
                && self.is_of_members(stock)
            {
                self.mark(stock, self.turns[stock][i]);
            }
        }
    }

    /// The tank or sump that is treated.
    pub(super) fn anchor(&self, treatment: &TreatmentState) -> Option<Tank> {
        match (treatment.system, treatment.tank) {
            (Some(system), _) => self.numbered.sump(system),
            (None, tank) => tank.and_then(|tank| self.numbered.tank(tank)),
        }
    }

    /// Treatments begin, then end: one of no length is over at once.
    fn treat(&mut self, at: At, moment: &[(At, Change)]) {
        for begins in [true, false] {
            let (mut touched, mut at_once) = (Vec::new(), Vec::new());
            for (_, change) in moment {
                let Change::Treated(i, what) = *change else { continue };
                if what != begins {
                    continue;
                }
                let Some(treatment) = self.room.treatments.values().nth(i) else { continue };
                let Some(anchor) = self.anchor(treatment) else { continue };
                if begins {
                    self.is.anchors[anchor] += 1;
                } else {
                    self.is.anchors[anchor] = self.is.anchors[anchor].saturating_sub(1);
                }
                touched.push(anchor);
                if begins && treatment.until.is_some_and(|(until, _)| until == at) {
                    at_once.push((anchor, treatment.until.map(|(_, op)| op)));
                }
            }
            for (anchor, op) in at_once {
                let all = self.is.waters.of_tank(anchor).stocks.clone();
                self.restart(&all, at, Why::Treatment(op), &mut touched);
            }
            self.mix(at, &touched);
        }
    }

    /// Whether fish of a stock, or of what it was split off, are held: of all others nobody asks what became.
    pub(super) fn is_of_members(&self, stock: Stock) -> bool {
        let mut line = std::iter::successors(Some(stock), |stock| self.is.wholes[*stock]);
        !self.is.held.is_empty() && line.any(|stock| self.is.members[stock].is_some())
    }

    fn turn(&mut self, stock: Stock, i: usize, touched: &mut Vec<Tank>) {
        if self.is.members[stock].is_none() {
            return;
        }
        self.reckon(stock, i + 1);
        let turn = self.turns[stock][i];
        let loss = self.is.losses[stock].last().filter(|loss| loss.op == turn.op && !loss.named);
        if loss.is_some() && self.is_alarming(stock, turn.at) {
            self.begin_again(stock, turn.at, RestartOn::UnexplainedLoss, Why::Loss(turn.op), touched);
        }
    }

    /// Reckons up what was lost of a stock, and how many are left, in so many of its turns. Only done where somebody
    /// asks.
    fn reckon(&mut self, stock: Stock, turns: usize) {
        let (done, total) = self.is.reckoned[stock];
        let new = self.turns[stock].get(done..turns).unwrap_or_default();
        let mut left = total;
        for turn in new {
            left += turn.change;
            let Some(named) = is_named_loss(turn, &self.room.facts.judged) else { continue };
            self.is.losses[stock].push(Loss {
                at: turn.at,
                op: turn.op,
                n: -turn.change,
                named,
                left: left.max(0),
            });
        }
        self.is.reckoned[stock] = (done.max(turns), left);
    }

    /// A loss nobody can explain is alarming; of young fry only where many are lost within seven days.
    fn is_alarming(&self, stock: Stock, at: At) -> bool {
        let Some(rule) = self.is.members[stock].as_ref().map(|member| &member.rule) else { return false };
        let is_fry = self.is.born[stock].is_some_and(|born| at < born.plus(rule.fry_days));
        if !is_fry {
            return true;
        }
        let lately = |loss: &&Loss| !loss.named && at.seconds() - loss.at.seconds() < WEEK;
        let lost: i64 = self.is.losses[stock]
            .iter()
            .rev()
            .take_while(|l| at.seconds() - l.at.seconds() < WEEK)
            .filter(lately)
            .map(|loss| loss.n)
            .sum();
        let left = self.is.losses[stock].last().map_or(0, |loss| loss.left);
        lost * 100 > i64::from(rule.fry_loss_percent) * (lost + left)
    }

    /// Begins the days again of everybody who lately shared water with these fish, if the rule has it.
    fn begin_again(&mut self, stock: Stock, at: At, on: RestartOn, why: Why, touched: &mut Vec<Tank>) {
        let Some(member) = &self.is.members[stock] else { return };
        if !member.rule.restart_on.contains(&on) {
            return;
        }
        let lately = i64::from(member.rule.water_days.0) * 86_400;
        let all = self.is.company.within(stock, at, lately);
        self.restart(&all, at, why, touched);
    }

    fn restart(&mut self, stocks: &[Stock], at: At, why: Why, touched: &mut Vec<Tank>) {
        // Those who stay as they are keep what was open in their water up to now.
        let tanks: Vec<Tank> = stocks.iter().flat_map(|stock| self.is.waters.tanks(*stock)).collect();
        self.share(at, &tanks);
        for &stock in stocks {
            if let Some(member) = &mut self.is.members[stock] {
                member.restart(at, why);
            }
        }
        touched.extend(tanks);
    }

    /// What a steward has to let pass.
    fn mark(&mut self, stock: Stock, turn: Turn) {
        match turn.kind {
            TurnKind::Counted if turn.change > 0 => {
                if let Some(member) = &mut self.is.members[stock] {
                    let kind = MarkKind::FoundMore;
                    member.taint.mark(Mark { kind, stock: member.stock, op: turn.op, at: turn.at });
                }
            }
            TurnKind::Lost { .. } | TurnKind::Left => {
                // What a part loses the whole has lost: nobody gets rid of the dying by keeping them apart first.
                let mut whole = Some(stock);
                while let Some(stock) = whole {
                    self.mark_many(stock, turn);
                    whole = self.is.wholes[stock];
                }
            }
            _ => {}
        }
    }

    fn mark_many(&mut self, stock: Stock, turn: Turn) {
        let Some((start, share)) =
            self.is.members[stock].as_ref().map(|m| (m.start, m.rule.named_loss_percent))
        else {
            return;
        };
        let (mut named, mut open, mut left) = (0, 0, 0);
        let mut next = vec![stock];
        while let Some(part) = next.pop() {
            self.reckon(part, self.turns[part].partition_point(|other| other.at <= turn.at));
            for loss in self.is.losses[part].iter().rev().take_while(|loss| loss.at >= start) {
                *(if loss.named { &mut named } else { &mut open }) += loss.n;
            }
            left += self.is.reckoned[part].1.max(0);
            next.extend(&self.is.parts[part]);
        }
        if named * 100 > i64::from(share) * (named + open + left)
            && let Some(member) = &mut self.is.members[stock]
        {
            let kind = MarkKind::ManyNamed;
            member.taint.mark(Mark { kind, stock: member.stock, op: turn.op, at: turn.at });
        }
    }

    /// Somebody looked at the fish in some tanks.
    pub(super) fn look(&mut self, at: At, moment: &[(At, Change)]) {
        for (_, change) in moment {
            let Change::Looked(i) = *change else { continue };
            let Evidence::Look { tanks, .. } = &self.room.evidence[i] else { continue };
            for stock in self.seen(tanks) {
                let Some(member) = &mut self.is.members[stock] else { continue };
                if let Some(gap) = member.unseen(at) {
                    let (start, longest) = (member.start, member.longest_gap());
                    member.taint.gap(gap, start, longest);
                }
                member.last_look = member.last_look.max(at);
            }
        }
    }

    /// The members in some tanks. Most looks are at many tanks and few members, some the other way round.
    fn seen(&self, tanks: &[TankId]) -> Vec<Stock> {
        if self.is.held.len() > tanks.len() {
            let tanks = tanks.iter().filter_map(|tank| self.numbered.tank(*tank));
            return tanks.flat_map(|tank| self.is.waters.inside(tank)).copied().collect();
        }
        let is_seen = |tank: Tank| self.numbered.tanks.get(tank).is_some_and(|id| tanks.contains(id));
        self.is.held.iter().copied().filter(|stock| self.is.waters.tanks(*stock).any(is_seen)).collect()
    }
}
