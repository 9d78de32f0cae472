//! How a quarantine opens: when fish from outside first go into water here, under whose rule and for how long. What
//! they meet there is for the mixing.

use std::sync::Arc;

use uuid::Uuid;

use super::clock::Sweep;
use super::facts::Opening;
use super::member::{Cause, Member, Run, Why};
use super::moment::Stock;
use super::taint::Taint;
use crate::clubs::Rule;
use crate::rooms::Came;
use crate::streams::{At, Days, OpId};

impl Sweep<'_> {
    /// A bag's clock starts when its fish first go into water here. Where they only may have, they are held from
    /// then, but the clock starts again when they surely did.
    pub(super) fn open(&mut self, stock: Stock, at: At, by: OpId, doubtful: bool) {
        let was_sealed = std::mem::take(&mut self.is.sealed[stock]);
        self.is.doubted[stock] |= was_sealed && doubtful;
        let sure = !doubtful && std::mem::take(&mut self.is.doubted[stock]);
        if !was_sealed && !sure {
            return;
        }
        let opened = Opening::of(at, (self.room.received)(by));
        let rule = Arc::new(self.room.facts.rule_for(opened, at));
        let days = self.days(&rule, stock);
        let cause = Cause::Introduced;
        let why = Why::Arrived(self.numbered.stocks[stock]);
        if let Some(member) = &mut self.is.members[stock] {
            let older = std::mem::replace(&mut member.opened, opened);
            member.with_openings([older]);
            member.cause = cause;
            member.restart(at, why);
            member.also_under(&rule, days);
            return;
        }
        let (id, opened_by) = (self.numbered.stocks[stock], self.maker(stock));
        let new = Member {
            stock: id,
            cause,
            opened_by,
            since: at,
            start: at,
            days,
            due: at.plus(days),
            runs: vec![Run { start: at, why }],
            opened,
            also_opened: Vec::new(),
            rule,
            last_look: at,
            taint: Taint::default(),
            under: false,
        };
        self.hold(stock, new);
    }

    /// Whether a stock's fish came in a bag that was not surely opened.
    pub(super) fn is_in_bag(&self, stock: Stock) -> bool {
        self.is.sealed[stock] || self.is.doubted[stock]
    }

    pub(super) fn maker(&self, stock: Stock) -> OpId {
        self.states[stock].made.unwrap_or(OpId(Uuid::nil()))
    }

    /// How long a rule holds these fish. A part of a stock came from where the whole came from, and is what it is.
    pub(super) fn days(&self, rule: &Rule, stock: Stock) -> Days {
        let (mut of, mut state) = (stock, self.states[stock]);
        let mut species = state.species.as_deref();
        // A chain of splits ends, but records can contradict themselves.
        for _ in 0..self.states.len() {
            let Some(whole) = self.is.wholes[of] else { break };
            of = whole;
            state = self.states[whole];
            species = species.or(state.species.as_deref());
        }
        let from = match &state.came {
            Some(Came::In { from }) => Some(from.word()),
            Some(Came::Parcel { .. }) => Some("parcel"),
            _ => None,
        };
        rule.days_for(from, species)
    }

    /// Whether fish of a stock were put where they are at this instant as test companions.
    pub(super) fn is_companion(&self, stock: Stock, at: At) -> bool {
        self.states[stock].stays.iter().any(|stay| stay.companion && stay.from == at)
    }

    /// Young are born into the water they are found in; they never met it.
    pub(super) fn is_born(&self, stock: Stock, at: At) -> bool {
        let state = self.states[stock];
        matches!(state.came, Some(Came::Born { .. })) && state.since == Some(at)
    }
}
