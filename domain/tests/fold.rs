//! The folds against a slow, obvious reading of the same rules, on random histories: any order and any batches of
//! arrival, taking away and adding again, and the things that `add` says have changed.

#[path = "fold/bodies.rs"]
mod bodies;
#[path = "fold/clock.rs"]
mod clock;
mod dice;
#[path = "fold/history.rs"]
mod history;
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
