//! The clock against the slow reading on rooms at random, signed off well and badly; and that the rooms are not dull.

use std::collections::{BTreeMap, BTreeSet};

use tarn_domain::quarantine::{
    BlockerKind, Gap, MarkKind, Reading, SharedWater, SignOffs, Unit, Waiver, Why,
};
use tarn_domain::state::reading;
use tarn_domain::streams::{At, StockId};

use crate::dice::{Dice, cases};
use crate::ops::{Record, cleared_for, half, waived};
use crate::reference::{Seen, Slow, Told, told, told_of};
use crate::room::{self, club};
use crate::shrink::{shrink, story};

fn read(record: &Record, now: At) -> Reading {
    reading(&record.memory, now, SignOffs::Verify)
}

fn slow(record: &Record, now: At) -> (Told, Seen) {
    record.view(|view| {
        let slow = Slow::read(view, now);
        (told(&slow, now), slow.seen)
    })
}

/// How often something came up.
#[derive(Default)]
struct Tally(BTreeMap<String, u64>);

impl Tally {
    fn add(&mut self, what: impl Into<String>, n: usize) {
        *self.0.entry(what.into()).or_default() += n as u64;
    }

    fn reading(&mut self, reading: &Reading) {
        for unit in &reading.units {
            self.add(unit.state.word(), 1);
            self.add("gaps", unit.gaps.len());
            for mark in &unit.marks {
                self.add(if mark.kind == MarkKind::FoundMore { "found more" } else { "many named" }, 1);
            }
            for member in &unit.members {
                self.add(member.cause.word(), 1);
                for run in &member.runs {
                    self.add(why(run.why), 1);
                }
            }
        }
        self.add("waits", reading.waits.len());
        self.add("not emptied", reading.unemptied.len());
    }
}

fn why(why: Why) -> &'static str {
    match why {
        Why::Arrived(_) => "began: arrived",
        Why::Breached(_) => "began: breached",
        Why::Sign(_) => "began: sign",
        Why::Loss(_) => "began: loss",
        Why::Treatment(_) => "began: treatment",
        Why::Keeper(_) => "began: keeper",
    }
}

fn members(units: &[Unit]) -> BTreeSet<StockId> {
    units.iter().flat_map(|unit| unit.members.iter().map(|member| member.stock)).collect()
}

/// What lets a unit's blockers pass.
fn passing(unit: &Unit) -> Vec<Waiver> {
    let waiver = |blocker| Waiver { blocker, entry: None, stock: None, until: None, why: "seen".into() };
    let gaps = unit.gaps.iter().map(|Gap { until, stock, .. }| Waiver {
        stock: Some(*stock),
        until: Some(*until),
        ..waiver(BlockerKind::ObservationGap)
    });
    let marks = unit.marks.iter().map(|mark| match mark.kind {
        MarkKind::FoundMore => Waiver { entry: Some(mark.op), ..waiver(BlockerKind::FoundMore) },
        MarkKind::ManyNamed => {
            Waiver { stock: Some(mark.stock), until: Some(mark.at), ..waiver(BlockerKind::ManyNamedLosses) }
        }
    });
    gaps.chain(marks).collect()
}

/// Stewards sign, mostly what may be signed.
fn sign(record: &mut Record, dice: &mut Dice, tally: &mut Tally) {
    let there = read(record, half(dice.of_range(4..90))).units;
    let Some(due) = there.get(dice.below(there.len().max(1))).and_then(|unit| unit.due) else { return };
    let at = At::from_seconds(due.seconds() + dice.pick(&[-86_400, 0, 0, 43_200, 3 * 86_400]));
    let there = read(record, at).units;
    if there.is_empty() {
        return;
    }
    let unit = dice.pick(&there);
    let mut named: Vec<StockId> = unit.members.iter().map(|m| m.stock).collect();
    if dice.percent(10) {
        named.pop();
    }
    let mut waivers = if dice.percent(85) { passing(&unit) } else { Vec::new() };
    if dice.percent(10) {
        record.write(at, waived(std::mem::take(&mut waivers)));
    }
    let clubs = if dice.percent(60) { vec![club(0), club(1)] } else { vec![club(dice.below(2))] };
    let mut when = at;
    for club in clubs {
        record.write(when, cleared_for(club, named.clone(), waivers.clone()));
        when = At::from_seconds(when.seconds() + dice.pick(&[0, 0, 43_200, 2 * 86_400]));
    }
    record.fold();
    let (before, after) = (members(&there), members(&read(record, when).units));
    tally.add(
        "sign-offs that free",
        usize::from(named.iter().any(|s| before.contains(s) && !after.contains(s))),
    );
}

#[test]
fn the_clock_agrees_with_the_slow_reading() {
    let mut tally = Tally::default();
    let first = std::env::var("TARN_SEED").ok().and_then(|seed| seed.parse().ok()).unwrap_or(0);
    for seed in first..first + cases(10_000) {
        let (mut record, mut dice) = room::random(seed);
        record.fold();
        for _ in 0..dice.below(3) {
            sign(&mut record, &mut dice, &mut tally);
        }
        for _ in 0..2 {
            let now = half(dice.of_range(0..100));
            let ours = read(&record, now);
            let (theirs, seen) = slow(&record, now);
            tally.reading(&ours);
            tally.add("water that breached", seen.breached);
            tally.add("emptied", seen.emptied);
            let waits = |unit: &Unit| unit.shared_water == SharedWater::WaitForLast;
            tally.add("waiting for the last", ours.units.iter().filter(|unit| waits(unit)).count());
            if told_of(&ours) != theirs {
                let differ = |r: &Record| told_of(&read(r, now)) != slow(r, now).0;
                let least = shrink(&record.ops, differ);
                let (ours, theirs) = (told_of(&read(&least, now)), slow(&least, now).0);
                panic!("seed {seed}\n{}", story(&least, now, &ours, &theirs));
            }
        }
    }
    let of = |what: &str| tally.0.get(what).copied().unwrap_or_default();
    for (what, least) in ENOUGH {
        let least = least * cases(10_000) / 10_000;
        assert!(of(what) >= least, "{what}: {} of {least}; the rooms are too dull: {:?}", of(what), tally.0);
    }
}

/// How often in ten thousand rooms, at least.
const ENOUGH: [(&str, u64); 24] = [
    ("in the bag", 2000),
    ("running", 5000),
    ("treating", 1000),
    ("due", 7000),
    ("recalled", 1000),
    ("introduced", 10_000),
    ("breach", 9000),
    ("companion", 100),
    ("descent", 3000),
    ("gaps", 30_000),
    ("found more", 1000),
    ("many named", 1000),
    ("began: arrived", 20_000),
    ("began: breached", 10_000),
    ("began: sign", 2000),
    ("began: loss", 5000),
    ("began: treatment", 1000),
    ("began: keeper", 800),
    ("waits", 12_000),
    ("waiting for the last", 3000),
    ("not emptied", 1000),
    ("emptied", 100),
    ("water that breached", 200),
    ("sign-offs that free", 1000),
];
