//! Entries that came late or were taken back, and that no steward has let pass; and the room as it would be if they
//! counted otherwise.

use std::collections::{BTreeMap, BTreeSet};

use super::dates::Dates;
use super::memory::{Entry, Memory};
use crate::quarantine::{BlockerKind, Reading, RoomFacts};
use crate::streams::{At, Entity, EntityKind, OpId, Received};

/// Late and withdrawn entries.
pub(super) struct Odd {
    /// Late ones, and when they were received.
    pub late: BTreeMap<OpId, Option<Received>>,
    /// Which was taken back by which.
    pub withdrawn: BTreeMap<OpId, OpId>,
}

impl Odd {
    /// Those of a room.
    pub fn of(memory: &Memory, reading: &Reading, now: At) -> Self {
        let empty = RoomFacts::default();
        let facts = memory.facts().unwrap_or(&empty);
        let opening = crate::quarantine::Opening { at: now, received: now };
        let hours = reading.units.iter().map(|unit| unit.rule.late_after_hours);
        let hours = hours.min().unwrap_or(u16::MAX).min(facts.rule_for(opening, now).late_after_hours);
        let passed = |kind, op| facts.waived.iter().any(|w| w.blocker == kind && w.entry == Some(op));
        let (mut late, mut withdrawn) = (BTreeMap::new(), BTreeMap::new());
        let counts = |entry: &Entry| entry.linked.live && !entry.linked.decision && !is_left_out(entry.kind);
        for (old, by) in memory.all_withdrawals().filter(|(_, by)| counts(by)) {
            let (target, by_id) = (old.linked.order.id, by.linked.order.id);
            let fixed = old.linked.decision || old.linked.links.withdraws.is_some();
            let together = old.accepted.map(|a| a.received) == by.accepted.map(|a| a.received);
            if !fixed
                && !together
                && !is_left_out(old.kind)
                && !passed(BlockerKind::EvidenceWithdrawn, target)
            {
                let by = withdrawn.entry(target).or_insert(by_id);
                *by = by_id.min(*by);
            }
        }
        let is_late = |dates: &Dates| dates.took(now) > i64::from(hours) * 3600;
        for (_, entry) in memory.dated().filter(|(dates, _)| is_late(dates)) {
            let id = entry.linked.order.id;
            if counts(entry)
                && entry.linked.links.withdraws.is_none()
                && !passed(BlockerKind::RecordedLate, id)
            {
                late.insert(id, entry.accepted.map(|accepted| accepted.received));
            }
        }
        Self { late, withdrawn }
    }

    /// Whether there are none.
    pub fn is_none(&self) -> bool {
        self.late.is_empty() && self.withdrawn.is_empty()
    }

    /// Those that the clock reads.
    pub fn bearing(&self, memory: &Memory) -> Vec<OpId> {
        let all = self.late.keys().chain(self.withdrawn.keys());
        all.filter(|op| memory.entry(**op).is_some_and(|entry| entry.body.is_some())).copied().collect()
    }

    /// The room, and how it reads, without the late entries, with the withdrawn ones, and both at once. Then once more
    /// with those late entries that hold fish and without those that may free them: a late arrival hides no late
    /// departure.
    pub fn otherwise(
        &self,
        memory: &Memory,
        reading: &Reading,
        read: impl Fn(&Memory) -> Reading,
    ) -> Vec<(Memory, Reading)> {
        let (late, withdrawn) = (!self.late.is_empty(), !self.withdrawn.is_empty());
        let fold = |keep: &dyn Fn(&Entry) -> bool, back: bool| {
            let other = memory.with_only(|entry| {
                let taken_back = entry.linked.links.withdraws;
                let left_out = self.late.contains_key(&entry.linked.order.id) && !keep(entry);
                let put_back = back && taken_back.is_some_and(|op| self.withdrawn.contains_key(&op));
                !left_out && !put_back
            });
            let reading = read(&other);
            (other, reading)
        };
        let mut all = Vec::new();
        all.extend(late.then(|| fold(&|_| false, false)));
        all.extend(withdrawn.then(|| fold(&|_| true, true)));
        all.extend((late && withdrawn).then(|| fold(&|_| false, true)));
        let mut held = things(reading);
        all.iter().for_each(|(_, reading)| held.extend(things(reading)));
        if late && !held.is_empty() {
            let holds = |entry: &Entry| may_hold(entry, &held);
            all.push(fold(&holds, false));
            all.extend(withdrawn.then(|| fold(&holds, true)));
        }
        all
    }
}

/// Stocks and tanks that are held.
fn things(reading: &Reading) -> BTreeSet<Entity> {
    let stocks = reading.units.iter().flat_map(|unit| &unit.members).map(|member| member.stock.into());
    let tanks = reading.units.iter().flat_map(|unit| &unit.tanks).map(|tank| (*tank).into());
    stocks.chain(tanks).collect()
}

/// Whether an entry is about fish that are held, or about no fish but their water; or sets up what others rest on.
fn may_hold(entry: &Entry, held: &BTreeSet<Entity>) -> bool {
    let links = &entry.linked.links;
    let named = links.named();
    let mut stocks = named.iter().filter(|thing| thing.kind == EntityKind::Stock).peekable();
    if stocks.peek().is_some() {
        return stocks.any(|stock| held.contains(stock));
    }
    !links.makes.is_empty() || named.iter().any(|thing| held.contains(thing))
}

/// Notes, readings and sexings say nothing of who was where.
fn is_left_out(kind: &str) -> bool {
    matches!(kind, "note.written" | "water.read" | "water.logged" | "stock.sexed")
}
