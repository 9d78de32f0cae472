//! The slow reading of losses, gifts and counts: which begin the days again, and which a steward has to let pass.

use std::collections::BTreeSet;

use tarn_domain::quarantine::MarkKind;
use tarn_domain::rooms::words::Cause;
use tarn_domain::rooms::{Came, Turn, TurnKind};
use tarn_domain::streams::{At, OpId, StockId};

use super::Slow;

const DAY: i64 = 24 * 3600;

#[derive(Clone, Copy, PartialEq, Eq)]
enum Loss {
    Unexplained,
    /// Under a named cause, or given away.
    Named,
}

impl Slow<'_> {
    fn loss(&self, turn: &Turn) -> Option<Loss> {
        let unexplained = match turn.kind {
            TurnKind::Lost { cause: Cause::Unknown | Cause::Disease, .. } => true,
            TurnKind::Lost { cause: Cause::Culled, reason: false } => true,
            TurnKind::Lost { .. } | TurnKind::Left => self.room.facts.judged.contains(&turn.op),
            TurnKind::Counted if turn.change < 0 => true,
            _ => return None,
        };
        (turn.change < 0).then_some(if unexplained { Loss::Unexplained } else { Loss::Named })
    }

    /// How many were lost of a stock within a time.
    fn lost(&self, stock: StockId, kind: Loss, within: impl Fn(At) -> bool) -> i64 {
        let all = self.state(stock).turns.iter().filter(|turn| within(turn.at));
        all.filter(|turn| self.loss(turn) == Some(kind)).map(|turn| -turn.change).sum()
    }

    /// Stocks that lost fish at an instant in a way that begins the days again.
    pub(super) fn lost_unexplained(&self, at: At) -> BTreeSet<StockId> {
        let mut all = BTreeSet::new();
        for (id, stock) in &self.room.stocks {
            let (mut left, mut before) = (0, Vec::new());
            for turn in &stock.turns {
                left += turn.change;
                let unexplained = self.loss(turn) == Some(Loss::Unexplained);
                if unexplained {
                    before.push(turn);
                }
                if unexplained && turn.at == at && self.matters(*id, at, &before, left.max(0)) {
                    all.insert(*id);
                }
            }
        }
        all
    }

    /// Of young fish some always die.
    fn matters(&self, stock: StockId, at: At, losses: &[&Turn], left: i64) -> bool {
        let (Some(born), Some(held)) = (self.births.get(&stock), self.held(stock)) else { return true };
        let rule = &held.terms.rule;
        if at.seconds() - born.seconds() >= i64::from(rule.fry_days.0) * DAY {
            return true;
        }
        let week = losses.iter().filter(|turn| turn.at.seconds() > at.seconds() - 7 * DAY);
        let lost: i64 = week.map(|turn| -turn.change).sum();
        lost * 100 > i64::from(rule.fry_loss_percent) * (lost + left)
    }

    /// Marks of an instant.
    pub(super) fn mark(&mut self, at: At) {
        for (id, stock) in &self.room.stocks {
            for turn in stock.turns.iter().filter(|turn| turn.at == at) {
                if turn.kind == TurnKind::Counted
                    && turn.change > 0
                    && let Some(held) = self.held_mut(*id)
                {
                    held.marks.insert((MarkKind::FoundMore, *id, turn.op, at));
                }
            }
            let gone =
                |turn: &&Turn| turn.at == at && matches!(turn.kind, TurnKind::Lost { .. } | TurnKind::Left);
            let Some(turn) = stock.turns.iter().rfind(gone) else { continue };
            // What a part loses, all that it was kept apart from have lost.
            let mut whole = Some(*id);
            while let Some(stock) = whole {
                self.mark_many(stock, turn.op, at);
                whole = match &self.state(stock).came {
                    Some(Came::Split { of }) => self.room.stocks.contains_key(of).then_some(*of),
                    _ => None,
                };
            }
        }
    }

    fn mark_many(&mut self, stock: StockId, op: OpId, at: At) {
        let Some(held) = self.held(stock) else { return };
        let (start, percent) = (held.terms.start, i64::from(held.terms.rule.named_loss_percent));
        let (mut named, mut unexplained, mut left) = (0, 0, 0);
        for part in self.room.stocks.keys().filter(|part| self.is_part(**part, stock)) {
            named += self.lost(*part, Loss::Named, |when| when >= start && when <= at);
            unexplained += self.lost(*part, Loss::Unexplained, |when| when >= start && when <= at);
            let turns = self.state(*part).turns.iter().filter(|turn| turn.at <= at);
            left += turns.map(|turn| turn.change).sum::<i64>().max(0);
        }
        if named * 100 > percent * (named + unexplained + left) {
            let held = self.held_mut(stock).expect("a member");
            held.marks.insert((MarkKind::ManyNamed, stock, op, at));
            held.clip();
        }
    }

    /// Whether a stock is a part of another, however often it was parted, or that stock itself.
    fn is_part(&self, part: StockId, whole: StockId) -> bool {
        let mut next = part;
        loop {
            if next == whole {
                return true;
            }
            match self.room.stocks.get(&next).and_then(|stock| stock.came.as_ref()) {
                Some(Came::Split { of }) => next = *of,
                _ => return false,
            }
        }
    }
}
