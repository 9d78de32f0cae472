//! A room's quarantine as it stands: the clock, what else is in the way, sign-offs that were recalled, and stock that
//! would be in a unit if late entries were left out, or withdrawn ones put back. Rests on when the server received
//! each entry, so it is in no state.

use std::collections::{BTreeMap, BTreeSet};

use super::dates::{Dates, NEVER};
use super::memory::{Entry, Memory};
use super::odd::Odd;
use super::touched::{History, Touched};
use super::views::view;
use crate::quarantine::{
    BlockerKind, Evidence, Gap, Held, Mark, MarkKind, Reading, RoomFacts, RoomView, SignOffs, Unit,
    UnitState, Waiver, bears_out, read, read_on,
};
use crate::streams::{At, OpId, Received, StockId};

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
        /// When that was received; none: it is not synced yet.
        received: Option<Received>,
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
        let reading = reading_on(memory, now, SignOffs::Known(&known));
        let odd = Odd::of(memory, &reading, now);
        let doubts = odd.bearing(memory);
        let mut others = Vec::new();
        if !doubts.is_empty() {
            let known = SignOffs::Known(&known);
            others = odd.otherwise(memory, &reading, |other| read_of(other, now, known, memory));
        }
        let held: BTreeSet<StockId> = members(&reading).collect();
        let otherwise = others.iter().flat_map(|(_, reading)| members(reading));
        let in_doubt = otherwise.filter(|stock| !held.contains(stock)).collect();
        let units = &reading.units;
        let touched = if odd.is_none() {
            units.iter().map(|_| Touched::default()).collect()
        } else {
            touched(memory, units, &others, now)
        };
        let each = units.iter().zip(&touched);
        let blockers = each.map(|(unit, touched)| blockers(memory, unit, &odd, touched)).collect();
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

/// The same, going on from what the last reading left where that still holds.
fn reading_on(memory: &Memory, now: At, signed: SignOffs<'_>) -> Reading {
    if !memory.is_settled() {
        return reading(memory, now, signed);
    }
    let mut kept = memory.take_kept();
    let reading = with_view(memory, now, signed, memory, |view| read_on(view, now, &mut kept));
    memory.put_kept(kept);
    reading
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
    let states = view(memory.each_state());
    let empty = RoomFacts::default();
    let evidence: Vec<&Evidence> = memory.evidence().collect();
    let received = |op| received(whole, op, now);
    ask(&states.for_quarantine(&empty, &evidence, &received, signed))
}

/// Sign-offs that what came later speaks against, each with the entries of the push that did. After each later push,
/// in the order in which they were received, the unit is computed again as of its sign-off, from what was known then
/// and all that came since of before it; what was recalled once stays so. What was found of earlier pushes is kept
/// with the room.
pub fn recalls(memory: &Memory, now: At) -> Recalls {
    let mut signed: Vec<&Entry> = memory.sign_offs().collect();
    // A later one may rest on an earlier one, whatever the order of arrival.
    signed.sort_unstable_by_key(|entry| entry.linked.order);
    let given = given(&signed);
    if given.is_empty() {
        return Recalls::new();
    }
    let (since, mut recalled) = memory.recalled();
    let mut known = recalled.clone();
    let mut pushes: BTreeMap<Received, Vec<&Entry>> = BTreeMap::new();
    let mut last = since;
    for (&Dates { received, counts_at, .. }, entry) in memory.dated().filter(|(d, _)| d.received > since) {
        let before = given.partition_point(|(then, _)| *then < received);
        let is_old = before.checked_sub(1).is_some_and(|last| given[last].1 >= counts_at);
        if is_old && speaks(entry) {
            pushes.entry(received).or_default().push(entry);
        }
        if received < NEVER {
            last = last.max(received);
        }
    }
    for (push, entries) in pushes {
        for signed in &signed {
            let (id, at) = (signed.linked.order.id, signed.linked.order.at);
            let old = entries.iter().filter(|entry| counts_at(entry) <= at);
            let mut by: Vec<OpId> = old.map(|entry| entry.linked.order.id).collect();
            by.sort_unstable();
            let concerns = when(signed) < push && !by.is_empty() && !recalled.contains_key(&id);
            if concerns && !still_holds(memory, signed, push, &recalled, now) {
                recalled.insert(id, by);
            }
        }
        if push < NEVER {
            known.clone_from(&recalled);
        }
    }
    if last > since {
        memory.keep_recalled(last, &known);
    }
    recalled
}

/// Sign-offs that were recalled, each with the entries that did it.
pub type Recalls = BTreeMap<OpId, Vec<OpId>>;

/// When an entry was received; later than everything, if it was not yet.
fn when(entry: &Entry) -> Received {
    entry.accepted.map_or(NEVER, |accepted| accepted.received)
}

/// When an entry counts.
fn counts_at(entry: &Entry) -> At {
    Dates::of(entry).counts_at
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

/// What is in the way of a unit.
fn blockers(memory: &Memory, unit: &Unit, odd: &Odd, touched: &Touched) -> Vec<Blocker> {
    let mut all: Vec<Blocker> = unit.gaps.iter().copied().map(Blocker::Gap).collect();
    all.extend(unit.marks.iter().map(|mark| match mark.kind {
        MarkKind::FoundMore => Blocker::FoundMore(*mark),
        MarkKind::ManyNamed => Blocker::ManyNamed(*mark),
    }));
    let touches = |op: OpId| memory.entry(op).is_some_and(|entry| touched.by(entry));
    let at = |op: OpId| memory.entry(op).map_or(At::from_seconds(0), |entry| entry.linked.order.at);
    let late = odd.late.iter().filter(|(op, _)| touches(**op));
    all.extend(late.map(|(op, received)| Blocker::Late { op: *op, at: at(*op), received: *received }));
    let withdrawn = odd.withdrawn.iter().filter(|(op, _)| touches(**op));
    let received =
        |op: OpId| memory.entry(op).and_then(|entry| entry.accepted).map(|accepted| accepted.received);
    all.extend(withdrawn.map(|(op, by)| Blocker::Withdrawn { op: *op, by: *by, received: received(*by) }));
    all
}

/// What each unit's fish were in and with whom, also as it would be if late or withdrawn entries counted otherwise.
fn touched(memory: &Memory, units: &[Unit], others: &[(Memory, Reading)], now: At) -> Vec<Touched> {
    let mut all: Vec<Touched> = units.iter().map(|_| Touched::default()).collect();
    let states = view(memory.each_state());
    let history = History::of(&states, now);
    units.iter().zip(&mut all).for_each(|(unit, touched)| history.tell(unit, touched));
    let ids = |unit: &Unit| unit.members.iter().map(|member| member.stock).collect::<BTreeSet<_>>();
    for (other, reading) in others {
        let states = view(other.each_state());
        let history = History::of(&states, now);
        for theirs in &reading.units {
            let members = ids(theirs);
            for (unit, touched) in units.iter().zip(&mut all) {
                if unit.members.iter().any(|member| members.contains(&member.stock)) {
                    history.tell(theirs, touched);
                }
            }
        }
    }
    all
}
