//! The folds against a slow, obvious reading of the same rules, on random histories: any order and any batches of
//! arrival, taking away and adding again, and the things that `add` says have changed.

#[path = "fold/bodies.rs"]
mod bodies;
#[path = "fold/brood.rs"]
mod brood;
#[path = "fold/clock.rs"]
mod clock;
mod dice;
#[path = "fold/frozen.rs"]
mod frozen;
#[path = "fold/grew.rs"]
mod grew;
#[path = "fold/history.rs"]
mod history;
#[path = "fold/kin.rs"]
mod kin;
#[path = "fold/parcel.rs"]
mod parcel;
#[path = "fold/plain.rs"]
mod plain;
#[path = "fold/reference.rs"]
mod reference;
#[path = "fold/shelf.rs"]
mod shelf;
#[path = "fold/stock.rs"]
mod stock;

use std::collections::BTreeMap;

use serde_json::Value;
use tarn_domain::catalogue::Body;
use tarn_domain::state::{EntityState, Memory};
use tarn_domain::streams::Entity;

use dice::cases;
use history::{Accepted, Author};
use shelf::Plain;

fn add(memory: &mut Memory, ops: &[Accepted]) -> Vec<Entity> {
    let ops = ops.iter().cloned().enumerate().map(|(i, (op, accepted))| (op, accepted, i as u64 + 1));
    memory.add(ops).into_iter().map(|(entity, _)| entity).collect()
}

fn states(memory: &Memory) -> BTreeMap<Entity, EntityState> {
    memory.states().into_iter().map(|(entity, state)| (entity, state.clone())).collect()
}

/// Compares two states and names the first thing that differs.
fn same(ours: &str, theirs: &str, when: &str) {
    if ours == theirs {
        return;
    }
    let read = |text: &str| serde_json::from_str::<Value>(text).expect("JSON");
    let (ours, theirs) = (read(ours), read(theirs));
    for (kind, things) in theirs.as_object().expect("an object") {
        for (id, state) in things.as_object().expect("an object") {
            assert_eq!(&ours[kind][id], state, "{when}: {kind} {id}");
        }
    }
    panic!("{when}: {ours} has more than {theirs}");
}

#[test]
fn the_folds_agree_with_the_plain_reading() {
    for seed in 0..cases(2_500) {
        let mut author = Author::of(seed);
        let long = 5 + author.dice.below(35);
        let history = author.history(long);
        let mut memory = Memory::default();
        add(&mut memory, &history);
        same(&memory.text(), &reference::text(&history), &format!("seed {seed}"));
    }
}

#[test]
fn arrival_does_not_matter() {
    for seed in 0..cases(2_000) {
        let mut author = Author::of(seed);
        let long = 5 + author.dice.below(35);
        let mut history = author.history(long);
        let mut whole = Memory::default();
        add(&mut whole, &history);
        author.dice.shuffle(&mut history);
        let mut memory = Memory::default();
        let mut rest = history.as_slice();
        while !rest.is_empty() {
            let (now, later) = rest.split_at((1 + author.dice.below(6)).min(rest.len()));
            let before = states(&memory);
            let dirty = add(&mut memory, now);
            for (entity, state) in states(&memory) {
                let told = dirty.contains(&entity);
                assert!(
                    told || before.get(&entity) == Some(&state),
                    "seed {seed}: {entity:?} changed untold"
                );
            }
            rest = later;
        }
        same(&memory.text(), &whole.text(), &format!("seed {seed}"));
    }
}

#[test]
fn taken_off_and_put_back_is_as_if_never_gone() {
    for seed in 0..cases(600) {
        let mut author = Author::of(seed);
        let long = 5 + author.dice.below(25);
        let history = author.history(long);
        let mut shelf = Plain::default();
        let mut away = history.clone();
        for step in 0..8 {
            let before = shelf.states().clone();
            let here = shelf.ops();
            let dirty = if !here.is_empty() && author.dice.percent(40) {
                let gone: Vec<Accepted> = here.into_iter().filter(|_| author.dice.percent(30)).collect();
                away.extend(gone.iter().cloned());
                shelf.remove(&gone.iter().map(|(op, _)| op.id).collect::<Vec<_>>())
            } else {
                author.dice.shuffle(&mut away);
                let keep = author.dice.below(away.len() + 1);
                shelf.add(&away.split_off(keep))
            };
            let now = shelf.states();
            for entity in now.keys().chain(before.keys()).filter(|e| !dirty.contains(e)) {
                assert_eq!(now.get(entity), before.get(entity), "seed {seed}: {entity:?} changed untold");
            }
            let here = shelf.ops();
            assert_eq!(shelf.live(), reference::counting(&here), "seed {seed}, step {step}");
            let mut memory = Memory::default();
            add(&mut memory, &here);
            same(&shelf.text(), &memory.text(), &format!("seed {seed}, step {step}"));
            let counts = |op: &Accepted| memory.entry(op.0.id).is_some_and(|e| e.linked.live);
            let live = here.iter().filter(|op| counts(op)).map(|(op, _)| op.id.to_string()).collect();
            assert_eq!(shelf.live(), live, "seed {seed}, step {step}: in memory");
        }
        shelf.add(&away);
        same(&shelf.text(), &reference::text(&history), &format!("seed {seed}"));
    }
}

/// What the comparisons above would never see if no history had it: told by the reference, not by the folds.
#[test]
fn the_histories_have_everything_in_them() {
    const HAVE: [(&str, &str); 17] = [
        ("brood", "/changes/0"),
        ("brood", "/changes/2"),
        ("brood", "/before/0/of"),
        ("brood", "/before/1/of"),
        ("brood", "/name/line"),
        ("brood", "/name/sure"),
        ("brood", "/told/is/brood"),
        ("brood", "/told/is/breeders"),
        ("parcel", "/again/0"),
        ("parcel", "/matched/0"),
        ("parcel", "/received/alive/0"),
        ("parcel", "/settled/rows/0"),
        ("parcel", "/agreed/stocks/0"),
        ("parcel", "/ancestry/0"),
        ("stock", "/virgin"),
        ("stock", "/grew/3"),
        ("stock", "/grew/0/from"),
    ];
    const FOUND: [(&str, &str); 6] = [
        ("brood", "disputed"),
        ("parcel", "disputed"),
        ("parcel", "unmatched"),
        ("parcel", "numbers-differ"),
        ("parcel", "made-twice"),
        ("parcel", "received-from-recalled"),
    ];
    let mut seen: BTreeMap<(&str, &str), usize> = HAVE.iter().chain(&FOUND).map(|of| (*of, 0)).collect();
    let (mut told_only, mut sexed, mut apart) = (0, 0, 0);
    for seed in 0..500 {
        let mut author = Author::of(seed);
        let long = 5 + author.dice.below(35);
        let history = author.history(long);
        let text = reference::text(&history);
        let room: Value = serde_json::from_str(&text).expect("JSON");
        let things = |kind: &str| {
            room[kind].as_object().map(|all| all.values().cloned().collect::<Vec<_>>()).unwrap_or_default()
        };
        for of in HAVE {
            let here = |state: &Value| state.pointer(of.1).is_some_and(|value| !value.is_null());
            *seen.get_mut(&of).expect("listed") += things(of.0).iter().filter(|state| here(state)).count();
        }
        for of in FOUND {
            let here = |state: &Value| {
                state["findings"].as_array().into_iter().flatten().any(|found| found["kind"] == of.1)
            };
            *seen.get_mut(&of).expect("listed") += things(of.0).iter().filter(|state| here(state)).count();
        }
        told_only += things("brood").iter().filter(|b| b["made"].is_null() && !b["told"].is_null()).count();
        let grew = |stock: &Value| stock["grew"].as_array().cloned().unwrap_or_default();
        sexed += things("stock").iter().flat_map(grew).filter(|grew| grew["sexed"] == true).count();
        let live = reference::counting(&history);
        let counts = |op: &&Accepted| live.contains(&op.0.id.to_string());
        let told_apart = |op: &&Accepted| matches!(&op.0.body, Body::ParcelMatched(b) if b.told_apart.iter().any(|row| row.n.get() > 0));
        apart += history.iter().filter(counts).filter(told_apart).count();
    }
    println!("{seen:?}, told only {told_only}, sexed {sexed}, told apart {apart}");
    assert!(seen.values().all(|n| *n >= 10), "{seen:?}");
    assert!(told_only >= 20 && sexed >= 10 && apart >= 20, "{told_only} {sexed} {apart}");
}
