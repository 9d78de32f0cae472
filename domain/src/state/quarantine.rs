//! A room's quarantine as it stands: the clock, what else is in the way, sign-offs that were recalled, and stock that
//! would be in a unit if late entries were left out, or withdrawn ones put back. Rests on when the server received
//! each entry, so it is in no state.

use std::collections::{BTreeMap, BTreeSet};

use super::evidence::of_entry;
use super::memory::{Entry, Memory};
use super::views::{RoomStates, view};
use crate::quarantine::{
    BlockerKind, Evidence, Gap, Held, Mark, MarkKind, Reading, RoomFacts, RoomView, SignOffs, Unit,
    UnitState, Waiver, bears_out, read,
};
use crate::streams::{At, Entity, OpId, Received, StockId};

/// Something in the way of a sign-off besides the days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Blocker {
    /// Nobody looked for too long.
    Gap(Gap),
    /// A count found more.
    FoundMore(Mark),
    /// Many were lost under named causes, or given away.
    ManyNamed(Mark),
    /// An entry was written down late.
    Late {
        /// Which.
        op: OpId,
        /// When it says that it happened.
        at: At,
        /// When it was received; none: it is not synced yet.
        received: Option<Received>,
    },
    /// An entry was taken back.
    Withdrawn {
        /// Which.
        op: OpId,
        /// By which.
        by: OpId,
    },
}

impl Blocker {
    /// Its kind, as a waiver names it.
    pub fn kind(&self) -> BlockerKind {
        match self {
            Self::Gap(_) => BlockerKind::ObservationGap,
            Self::FoundMore(_) => BlockerKind::FoundMore,
            Self::ManyNamed(_) => BlockerKind::ManyNamedLosses,
            Self::Late { .. } => BlockerKind::RecordedLate,
            Self::Withdrawn { .. } => BlockerKind::EvidenceWithdrawn,
        }
    }

    /// The stock that it is about.
    pub fn stock(&self) -> Option<StockId> {
        match self {
            Self::Gap(gap) => Some(gap.stock),
            Self::FoundMore(mark) | Self::ManyNamed(mark) => Some(mark.stock),
            Self::Late { .. } | Self::Withdrawn { .. } => None,
        }
    }

    /// A waiver of it as it stands at an instant.
    pub fn waiver(&self, at: At, why: String) -> Waiver {
        let (stock, until) = match self {
            Self::Gap(gap) => (Some(gap.stock), Some(gap.until.max(at))),
            Self::ManyNamed(mark) => (Some(mark.stock), Some(mark.at)),
            _ => (None, None),
        };
        let entry = self.entry().filter(|_| !matches!(self, Self::ManyNamed(_)));
        Waiver { blocker: self.kind(), entry, stock, until, why }
    }

    /// What it is called in a form: its kind, and the entry or stock that it is about.
    pub fn key(&self) -> String {
        let about = match self {
            Self::Gap(gap) => format!("{}/{}", gap.stock, gap.from),
            Self::ManyNamed(mark) => mark.stock.to_string(),
            _ => self.entry().map(|op| op.to_string()).unwrap_or_default(),
        };
        format!("{}/{about}", self.kind().word())
    }

    /// The entry that it is about.
    pub fn entry(&self) -> Option<OpId> {
        match self {
            Self::Gap(_) => None,
            Self::FoundMore(mark) | Self::ManyNamed(mark) => Some(mark.op),
            Self::Late { op, .. } | Self::Withdrawn { op, .. } => Some(*op),
        }
    }
}

/// A room's quarantine at an instant.
#[derive(Debug, Clone)]
pub struct Quarantine {
    /// Units and waits.
    pub reading: Reading,
    /// What is in the way of each unit, in the order of the units.
    pub blockers: Vec<Vec<Blocker>>,
    /// Sign-offs that were recalled, each with the entries that did it.
    pub recalled: Recalls,
    /// Stock that is in no unit, but would be in one.
    pub in_doubt: BTreeSet<StockId>,
    /// The entries by which it would.
    doubts: Vec<OpId>,
    now: At,
}

impl Quarantine {
    /// Of a room at `now`.
    pub fn of(memory: &Memory, now: At) -> Self {
        let recalled = recalls(memory, now);
        let known: BTreeSet<OpId> = recalled.keys().copied().collect();
        let reading = reading(memory, now, SignOffs::Known(&known));
        let odd = Odd::of(memory, &reading, now);
        let (mut in_doubt, doubts) = (BTreeSet::new(), odd.bearing(memory));
        if !doubts.is_empty() {
            let held: BTreeSet<StockId> = members(&reading).collect();
            for other in odd.otherwise(memory) {
                let otherwise = read_of(&other, now, SignOffs::Known(&known), memory);
                in_doubt.extend(members(&otherwise).filter(|stock| !held.contains(stock)));
            }
        }
        let states = view(memory.states());
        let blockers = reading.units.iter().map(|unit| blockers(memory, &states, unit, &odd)).collect();
        Self { reading, blockers, recalled, in_doubt, doubts, now }
    }

    /// The units, the earliest due first.
    pub fn units(&self) -> &[Unit] {
        &self.reading.units
    }

    /// The time it was computed for.
    pub fn now(&self) -> At {
        self.now
    }

    /// The unit of a stock, by its place.
    pub fn unit_of(&self, stock: StockId) -> Option<usize> {
        self.units().iter().position(|unit| unit.members.iter().any(|member| member.stock == stock))
    }

    /// Whether a unit may be signed off: its days are done, no treatment runs, and nothing else is in the way.
    pub fn is_ready(&self, unit: usize) -> bool {
        self.units()[unit].is_done(self.now) && self.blockers[unit].is_empty()
    }

    /// Why a stock may not leave the room; none: it may.
    pub fn held(&self, stock: StockId) -> Option<Held> {
        if let Some(at) = self.unit_of(stock) {
            let unit = &self.units()[at];
            return Some(match unit.state {
                UnitState::InTheBag => Held::InTheBag,
                _ => Held::Unit(unit.due),
            });
        }
        if self.in_doubt.contains(&stock) {
            return Some(Held::InDoubt(self.doubts.clone()));
        }
        self.reading.waits.get(&stock).filter(|until| **until > self.now).map(|until| Held::Waits(*until))
    }
}

fn members(reading: &Reading) -> impl Iterator<Item = StockId> + '_ {
    reading.units.iter().flat_map(|unit| unit.members.iter().map(|member| member.stock))
}

/// When an entry was received; now, if it was not accepted yet.
fn received(memory: &Memory, op: OpId, now: At) -> Received {
    memory.entry(op).and_then(|entry| entry.accepted).map_or(Received(now.ms()), |accepted| accepted.received)
}

/// What the clock alone says of a room.
pub fn reading(memory: &Memory, now: At, signed: SignOffs<'_>) -> Reading {
    read_of(memory, now, signed, memory)
}

/// The same of some of a room's ops; `whole` knows when each was received.
fn read_of(memory: &Memory, now: At, signed: SignOffs<'_>, whole: &Memory) -> Reading {
    with_view(memory, now, signed, whole, |view| read(view, now))
}

fn with_view<T>(
    memory: &Memory,
    now: At,
    signed: SignOffs<'_>,
    whole: &Memory,
    ask: impl FnOnce(&RoomView<'_>) -> T,
) -> T {
    let states = view(memory.states());
    let empty = RoomFacts::default();
    let evidence: Vec<Evidence> = memory.evidence().filter_map(of_entry).collect();
    let received = |op| received(whole, op, now);
    ask(&states.for_quarantine(&empty, &evidence, &received, signed))
}

/// Sign-offs that what came later speaks against, each with the entries of the push that did. After each later push,
/// in the order in which they were received, the unit is computed again as of its sign-off, from what was known then
/// and all that came since of before it; what was recalled once stays so. What was found of earlier pushes is kept
/// with the room.
pub fn recalls(memory: &Memory, now: At) -> Recalls {
    let signed: Vec<&Entry> =
        memory.entries().iter().filter(|e| e.kind == "quarantine.cleared" && e.linked.live).collect();
    let given = given(&signed);
    if given.is_empty() {
        return Recalls::new();
    }
    let (since, mut recalled) = memory.recalled();
    let mut pushes: BTreeMap<Received, Vec<&Entry>> = BTreeMap::new();
    for entry in memory.entries() {
        let (when, at) = (when(entry), counts_at(entry));
        let before = given.partition_point(|(then, _)| *then < when);
        let is_old = before.checked_sub(1).is_some_and(|last| given[last].1 >= at);
        if when > since && is_old && speaks(entry) {
            pushes.entry(when).or_default().push(entry);
        }
    }
    for (push, entries) in pushes {
        for signed in &signed {
            let (id, at) = (signed.linked.order.id, signed.linked.order.at);
            let old = entries.iter().filter(|entry| counts_at(entry) <= at);
            let by: Vec<OpId> = old.map(|entry| entry.linked.order.id).collect();
            let concerns = when(signed) < push && !by.is_empty() && !recalled.contains_key(&id);
            if concerns && !still_holds(memory, signed, push, &recalled, now) {
                recalled.insert(id, by);
            }
        }
        if push < NEVER {
            memory.keep_recalled(push, &recalled);
        }
    }
    recalled
}

/// Sign-offs that were recalled, each with the entries that did it.
pub type Recalls = BTreeMap<OpId, Vec<OpId>>;

/// Later than every push.
const NEVER: Received = Received(i64::MAX);

/// When an entry was received; later than everything, if it was not yet.
fn when(entry: &Entry) -> Received {
    entry.accepted.map_or(NEVER, |accepted| accepted.received)
}

/// When an entry counts: a sign when it was last seen.
fn counts_at(entry: &Entry) -> At {
    let at = entry.linked.order.at;
    match of_entry(entry) {
        Some(Evidence::Sign { at: seen, .. }) => at.min(seen),
        _ => at,
    }
}

/// Sign-offs in the order in which they were received, each with the latest instant of any so far. Most entries are
/// younger than every sign-off before them.
fn given(signed: &[&Entry]) -> Vec<(Received, At)> {
    let mut given: Vec<(Received, At)> = signed.iter().map(|e| (when(e), e.linked.order.at)).collect();
    given.sort_unstable();
    for i in 1..given.len() {
        given[i].1 = given[i].1.max(given[i - 1].1);
    }
    given
}

/// Whether an entry can speak against a sign-off.
fn speaks(entry: &Entry) -> bool {
    !entry.linked.decision && entry.body.is_some() && entry.linked.links.withdraws.is_none()
}

fn still_holds(memory: &Memory, signed: &Entry, push: Received, recalled: &Recalls, now: At) -> bool {
    let (id, at, then) = (signed.linked.order.id, signed.linked.order.at, when(signed));
    let known = memory.with_only(|entry| {
        let came = when(entry);
        came <= then || (came <= push && counts_at(entry) <= at && speaks(entry))
    });
    let Some(crate::catalogue::Body::QuarantineCleared(says)) = signed.body.as_deref() else { return true };
    let mut ignored: BTreeSet<OpId> = recalled.keys().copied().collect();
    ignored.insert(id);
    with_view(&known, now, SignOffs::Known(&ignored), memory, |view| bears_out(view, &says.members, at))
}

/// Entries that came late or were taken back, and that no steward has let pass.
struct Odd {
    late: BTreeMap<OpId, Option<Received>>,
    /// Which was taken back by which.
    withdrawn: BTreeMap<OpId, OpId>,
}

impl Odd {
    fn of(memory: &Memory, reading: &Reading, now: At) -> Self {
        let empty = RoomFacts::default();
        let states = view(memory.states());
        let facts = states.facts.unwrap_or(&empty);
        let opening = crate::quarantine::Opening { at: now, received: now };
        let hours = reading.units.iter().map(|unit| unit.rule.late_after_hours);
        let hours = hours.min().unwrap_or(u16::MAX).min(facts.rule_for(opening, now).late_after_hours);
        let passed = |kind, op| facts.waived.iter().any(|w| w.blocker == kind && w.entry == Some(op));
        let (mut late, mut withdrawn) = (BTreeMap::new(), BTreeMap::new());
        for entry in memory.entries() {
            let order = entry.linked.order;
            if entry.linked.decision || is_left_out(entry.kind) {
                continue;
            }
            if let Some(target) = entry.linked.links.withdraws {
                let Some(old) = memory.entry(target).filter(|old| !is_left_out(old.kind)) else { continue };
                let together = old.accepted.map(|a| a.received) == entry.accepted.map(|a| a.received);
                let counts =
                    entry.linked.live && !old.linked.decision && old.linked.links.withdraws.is_none();
                if counts && !together && !passed(BlockerKind::EvidenceWithdrawn, target) {
                    withdrawn.entry(target).or_insert(order.id);
                }
                continue;
            }
            let when = entry.accepted.map(|accepted| accepted.received);
            let seconds = when.map_or(now.seconds(), |when| when.0.div_euclid(1000)) - order.at.seconds();
            if seconds > i64::from(hours) * 3600
                && entry.linked.live
                && !passed(BlockerKind::RecordedLate, order.id)
            {
                late.insert(order.id, when);
            }
        }
        Self { late, withdrawn }
    }

    /// Those that the clock reads.
    fn bearing(&self, memory: &Memory) -> Vec<OpId> {
        let all = self.late.keys().chain(self.withdrawn.keys());
        all.filter(|op| memory.entry(**op).is_some_and(|entry| entry.body.is_some())).copied().collect()
    }

    /// The room without the late entries, and with the withdrawn ones; only where there are any.
    fn otherwise(&self, memory: &Memory) -> Vec<Memory> {
        let mut all = Vec::new();
        if !self.late.is_empty() {
            all.push(memory.with_only(|entry| !self.late.contains_key(&entry.linked.order.id)));
        }
        if !self.withdrawn.is_empty() {
            let takes_back = |entry: &Entry| entry.linked.links.withdraws;
            all.push(memory.with_only(|e| takes_back(e).is_none_or(|op| !self.withdrawn.contains_key(&op))));
        }
        all
    }
}

/// Notes, readings and sexings say nothing of who was where.
fn is_left_out(kind: &str) -> bool {
    matches!(kind, "note.written" | "water.read" | "stock.sexed")
}

/// What is in the way of a unit.
fn blockers(memory: &Memory, states: &RoomStates<'_>, unit: &Unit, odd: &Odd) -> Vec<Blocker> {
    let mut all: Vec<Blocker> = unit.gaps.iter().copied().map(Blocker::Gap).collect();
    all.extend(unit.marks.iter().map(|mark| match mark.kind {
        MarkKind::FoundMore => Blocker::FoundMore(*mark),
        MarkKind::ManyNamed => Blocker::ManyNamed(*mark),
    }));
    let stocks = unit.members.iter().map(|member| Entity::from(member.stock));
    let tanks = unit.tanks.iter().map(|tank| Entity::from(*tank));
    let systems = unit.tanks.iter().filter_map(|tank| states.tanks.get(tank)?.system()).map(Entity::from);
    let things: BTreeSet<Entity> = stocks.chain(tanks).chain(systems).collect();
    let opened = unit.members.iter().map(|member| member.since).min();
    let touches = |op: OpId| {
        memory.entry(op).is_some_and(|entry| {
            let named = entry.linked.links.named().into_iter().any(|thing| things.contains(&thing));
            let since = opened.is_none_or(|opened| {
                entry.linked.order.at >= opened
                    || entry.accepted.is_none_or(|accepted| accepted.received.0 >= opened.ms())
            });
            named && since
        })
    };
    let at = |op: OpId| memory.entry(op).map_or(At::from_seconds(0), |entry| entry.linked.order.at);
    let late = odd.late.iter().filter(|(op, _)| touches(**op));
    all.extend(late.map(|(op, received)| Blocker::Late { op: *op, at: at(*op), received: *received }));
    let withdrawn = odd.withdrawn.iter().filter(|(op, _)| touches(**op));
    all.extend(withdrawn.map(|(op, by)| Blocker::Withdrawn { op: *op, by: *by }));
    all
}
