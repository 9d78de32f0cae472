//! What holds for all rooms.

use std::collections::{BTreeMap, BTreeSet};

use tarn_domain::catalogue::{Op, Writer};
use tarn_domain::quarantine::Held;
use tarn_domain::quarantine::Unit;
use tarn_domain::state::{Memory, Quarantine};
use tarn_domain::streams::{Acceptance, At, Received, StockId};

use crate::bodies;
use crate::dice::cases;
use crate::prefix;
use crate::random::Author;

type Accepted = (Op, Option<Acceptance>);

fn fold(ops: &[Accepted]) -> Memory {
    let mut memory = Memory::default();
    push(&mut memory, ops);
    memory
}

/// As one push, after all that are there.
fn push(memory: &mut Memory, ops: &[Accepted]) {
    let seqs = memory.len() as u64 + 1..;
    memory.add(ops.iter().cloned().zip(seqs).map(|((op, accepted), seq)| (op, accepted, seq)));
}

/// Every stock that anything ever made.
fn stocks(ops: &[Accepted]) -> BTreeSet<StockId> {
    let named = ops.iter().flat_map(|(op, _)| op.body.links().makes);
    named.filter(|made| made.kind.word() == "stock").map(|made| StockId(made.id)).collect()
}

/// Who may not leave, and why; waits aside.
fn held(quarantine: &Quarantine, all: &BTreeSet<StockId>) -> BTreeMap<StockId, Held> {
    let held = |stock: &StockId| Some((*stock, quarantine.held(*stock)?));
    all.iter().filter_map(held).filter(|(_, held)| !matches!(held, Held::Waits(_))).collect()
}

fn later(at: At, days: i64) -> At {
    At::from_seconds(at.seconds() + days * 86_400)
}

#[test]
fn the_order_of_arrival_changes_no_answer() {
    let mut told = 0;
    for seed in 0..cases(150) {
        let mut author = Author::of(seed);
        author.write(40);
        let mut ops = author.room.ops.clone();
        let all = stocks(&ops);
        let memory = fold(&ops);
        author.dice.shuffle(&mut ops);
        let mut shuffled = Memory::default();
        // In batches, as pushes come.
        let mut rest = ops.as_slice();
        while !rest.is_empty() {
            let (batch, after) = rest.split_at((1 + author.dice.below(9)).min(rest.len()));
            push(&mut shuffled, batch);
            rest = after;
        }
        for days in [-9, 0, 4] {
            let now = later(author.now, days);
            let (ours, theirs) = (Quarantine::of(&memory, now), Quarantine::of(&shuffled, now));
            assert_eq!(ours.reading, theirs.reading, "seed {seed} at {now}");
            assert_eq!(ours.blockers, theirs.blockers, "seed {seed} at {now}");
            assert_eq!(ours.recalled, theirs.recalled, "seed {seed} at {now}");
            assert_eq!(ours.in_doubt, theirs.in_doubt, "seed {seed} at {now}");
            assert_eq!(held(&ours, &all), held(&theirs, &all), "seed {seed} at {now}");
            told += ours.units().len() + ours.recalled.len() + ours.in_doubt.len();
        }
    }
    assert!(told > 300, "{told}: the rooms are too dull");
}

/// A room that is asked after every push goes on from what it kept of the last answer. What it says is what a room
/// says that gets all at once and is asked for the first time.
#[test]
fn what_was_kept_changes_no_answer() {
    let mut told = 0;
    for seed in 0..cases(250) {
        let mut author = Author::of(seed);
        author.write(50);
        let mut ops = author.room.ops.clone();
        // In the order in which they happened but for a few, or in the order in which they were written.
        if seed % 3 != 0 {
            ops.sort_by_key(|(op, _)| op.at);
            for _ in 0..author.dice.below(6) {
                let (from, to) = (author.dice.below(ops.len()), author.dice.below(ops.len()));
                let late = ops.remove(from);
                ops.insert(to, late);
            }
        }
        let (mut memory, mut here, mut latest) = (Memory::default(), 0, None);
        while here < ops.len() {
            let batch = (1 + author.dice.below(5)).min(ops.len() - here);
            push(&mut memory, &ops[here..here + batch]);
            here += batch;
            latest = latest.max(ops[..here].iter().map(|(op, _)| op.at).max());
            let Some(latest) = latest else { continue };
            let now = later(latest, author.dice.of_range(-2..12));
            let (ours, theirs) = (Quarantine::of(&memory, now), Quarantine::of(&fold(&ops[..here]), now));
            assert_eq!(ours.reading, theirs.reading, "seed {seed} at {now}, after {here} ops");
            assert_eq!(ours.blockers, theirs.blockers, "seed {seed} at {now}, after {here} ops");
            assert_eq!(ours.recalled, theirs.recalled, "seed {seed} at {now}, after {here} ops");
            assert_eq!(ours.in_doubt, theirs.in_doubt, "seed {seed} at {now}, after {here} ops");
            told += ours.units().len();
        }
    }
    assert!(told > 3000, "{told}: the rooms are too dull");
}

/// What may not hang on when entries were received.
fn hard_facts(units: &[Unit]) -> Vec<impl PartialEq + std::fmt::Debug + use<>> {
    let one = |unit: &Unit| {
        let members: Vec<_> = unit
            .members
            .iter()
            .map(|m| (m.stock, m.cause, (m.since, m.start, m.due, m.days), m.runs.clone(), m.last_look))
            .collect();
        let unit = unit.clone();
        let sums = (unit.state, unit.start, unit.due, unit.days, unit.done);
        (unit.id, members, unit.tanks, sums, (unit.runs, unit.gaps, unit.marks), unit.rule)
    };
    units.iter().map(one).collect()
}

/// Where every club has one version of its rule, and no sign-off was recalled.
#[test]
fn when_entries_were_received_changes_neither_days_nor_gaps() {
    let mut told = 0;
    for seed in 0..cases(250) {
        let mut author = Author::of(seed);
        // Sign-offs are recalled as soon as entries come in another order; so there are none in some rooms.
        (author.versions, author.stewards) = (false, seed % 3 == 0);
        author.write(30);
        let ops = author.room.ops.clone();
        let mut others = ops.clone();
        for (op, accepted) in &mut others {
            if let Some(accepted) = accepted {
                accepted.received = Received(op.at.ms() + author.dice.of_range(0..12 * 86_400_000));
            }
        }
        let received = |(_, accepted): &Accepted| accepted.map_or(0, |accepted| accepted.received.0);
        let most = ops.iter().zip(&others).map(|(a, b)| (received(a) - received(b)).abs()).max().unwrap_or(0);
        let (ours, theirs) = (fold(&ops), fold(&others));
        for days in [-9, 0, 4] {
            let now = later(author.now, days);
            let (ours, theirs) = (Quarantine::of(&ours, now), Quarantine::of(&theirs, now));
            if !ours.recalled.is_empty() || !theirs.recalled.is_empty() {
                continue;
            }
            assert_eq!(hard_facts(ours.units()), hard_facts(theirs.units()), "seed {seed} at {now}");
            assert_eq!(ours.reading.unemptied, theirs.reading.unemptied, "seed {seed} at {now}");
            for stock in ours.reading.waits.keys().chain(theirs.reading.waits.keys()) {
                let until = |q: &Quarantine| q.reading.waits.get(stock).map_or(now, |until| *until).ms();
                let apart = (until(&ours) - until(&theirs)).abs();
                assert!(apart <= most, "seed {seed}: they wait longer or shorter, but they wait");
            }
            told += ours.units().len();
        }
    }
    assert!(told > 350, "{told}: the rooms are too dull");
}

/// An entry that comes later than the rule allows, and a withdrawal of what an earlier push brought, free nobody:
/// whoever was held before it came is held after it, as long as no steward has let it pass. (In rooms in which nothing
/// else came late or was taken back: of several such entries one can stand in for another.)
#[test]
fn what_comes_late_or_is_taken_back_frees_nobody() {
    let mut doubts = 0;
    for seed in 0..cases(400) {
        let mut author = Author::of(seed);
        author.versions = false;
        author.write(25);
        let in_time = |(op, accepted): &&Accepted| {
            let late = accepted.is_some_and(|a| a.received.0 - op.at.ms() > 2 * 86_400_000);
            // Nor has a steward let pass yet what is to come.
            !late && !["op.withdrawn", "quarantine.waived"].contains(&op.body.kind())
        };
        let mut ops: Vec<Accepted> = author.room.ops.iter().filter(in_time).cloned().collect();
        let now = later(author.now, 1);
        let before = Quarantine::of(&fold(&ops), now);
        assert!(before.in_doubt.is_empty(), "seed {seed}");
        let all = stocks(&ops);
        let was_held = held(&before, &all);
        // One more, late or taking something back.
        let taking_back = author.dice.percent(50);
        let body = if taking_back {
            bodies::withdrawn(author.dice.pick(&ops).0.id)
        } else {
            author.stewards = false;
            author.body()
        };
        let back = if taking_back { 0 } else { author.dice.of_range(4..20) };
        author.room.on(later(now, -back)).told(now).write(body);
        ops.extend(author.room.ops.last().cloned());
        let after = Quarantine::of(&fold(&ops), now);
        for (stock, why) in was_held {
            assert!(
                after.held(stock).is_some(),
                "seed {seed}: {stock} was held ({why:?}): {:#?}",
                ops.last()
            );
        }
        doubts += after.in_doubt.len();
    }
    assert!(doubts > 40, "{doubts}: the rooms are too dull");
}

/// Nothing that is written down as it happens frees anybody, whatever the keeper writes; only decisions do.
#[test]
fn nothing_that_happens_now_frees_anybody() {
    let mut held_before = 0;
    for seed in 0..cases(400) {
        let mut author = Author::of(seed);
        author.write(25);
        let ops = author.room.ops.clone();
        let all = stocks(&ops);
        let now = later(author.now, 1);
        let before = Quarantine::of(&fold(&ops), now);
        let was_held = held(&before, &all);
        held_before += was_held.len();
        author.now = now;
        let body = author.body();
        if body.writer() == Writer::Decision || body.kind() == "op.withdrawn" {
            continue;
        }
        author.room.on(now).told(now).write(body);
        let memory = fold(&author.room.ops);
        for after in [now, later(now, 1)] {
            let quarantine = Quarantine::of(&memory, after);
            for stock in was_held.keys() {
                let is_left = matches!(
                    memory.state((*stock).into()).map(|state| &**state),
                    Some(tarn_domain::state::EntityState::Stock(state)) if state.place().is_none()
                );
                let why = quarantine.held(*stock);
                let last = author.room.ops.last();
                assert!(why.is_some() || is_left, "seed {seed} at {after}: {stock} {last:#?}");
            }
        }
    }
    assert!(held_before > 400, "{held_before}: the rooms are too dull");
}

#[test]
fn a_recall_is_what_a_slow_reading_after_each_push_finds() {
    let (mut signed, mut recalled) = (0, 0);
    for seed in 0..cases(250) {
        let mut author = Author::of(seed);
        author.write(45);
        let mut ops = author.room.ops.clone();
        let now = later(author.now, 1);
        let slow = prefix::recalled(&ops);
        author.dice.shuffle(&mut ops);
        assert_eq!(
            Quarantine::of(&fold(&ops), now).recalled.into_keys().collect::<BTreeSet<_>>(),
            slow,
            "seed {seed}"
        );
        signed += ops.iter().filter(|(op, _)| op.body.kind() == "quarantine.cleared").count();
        recalled += slow.len();
    }
    assert!(signed > 300 && recalled > 60, "{signed} sign-offs, {recalled} recalls: the rooms are too dull");
}
