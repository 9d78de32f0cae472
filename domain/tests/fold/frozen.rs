//! What a kind means is kept: histories that were recorded once fold as they did then. What is recorded is never made
//! anew; a kind that comes later is recorded in a file of its own.

use std::fs;
use std::path::PathBuf;

use serde_json::{Value, json};
use tarn_domain::catalogue::{Op, op_text, personal, read_accepted};
use tarn_domain::state::Memory;
use tarn_domain::streams::Acceptance;

use crate::add;
use crate::history::{Accepted, Author};

/// So many histories were recorded, of so many entries each.
const RECORDED: (u64, usize) = (16, 50);

fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/frozen").join(name)
}

/// A history and the state that it folded to, as they were recorded.
fn recorded(line: &str) -> (Vec<Accepted>, String) {
    let line: Value = serde_json::from_str(line).expect("JSON");
    let told = |told: &Value| -> (Op, Option<Acceptance>) {
        let op = read_accepted(told["op"].clone()).expect("an op that was accepted once").op;
        let accepted = told.get("by").map(|by| Acceptance {
            by: serde_json::from_value(by.clone()).expect("an account"),
            received: serde_json::from_value(told["received"].clone()).expect("a time"),
            decision: told["decision"].as_bool().expect("yes or no"),
        });
        (op, accepted)
    };
    let ops = line["ops"].as_array().expect("ops").iter().map(told).collect();
    (ops, line["state"].as_str().expect("a text").to_owned())
}

fn line(ops: &[Accepted]) -> String {
    let mut memory = Memory::default();
    add(&mut memory, ops);
    let told = |(op, accepted): &Accepted| {
        let op: Value = serde_json::from_str(&op_text(op)).expect("JSON");
        match accepted {
            Some(a) => json!({"op": op, "by": a.by, "received": a.received, "decision": a.decision}),
            None => json!({"op": op}),
        }
    };
    json!({"ops": ops.iter().map(told).collect::<Vec<_>>(), "state": memory.text()}).to_string()
}

#[test]
fn what_was_recorded_folds_as_it_did() {
    let path = file("version-4.jsonl");
    if !path.exists() && std::env::var_os("TARN_BLESS").is_some() {
        let lines = (0..RECORDED.0).map(|seed| line(&Author::of(40_000 + seed).history(RECORDED.1)));
        fs::create_dir_all(file("")).expect("a folder");
        fs::write(&path, lines.map(|line| line + "\n").collect::<String>()).expect("written");
    }
    let text = fs::read_to_string(&path).expect("the record");
    let mut kinds = std::collections::BTreeSet::new();
    for (at, line) in text.lines().enumerate() {
        let (ops, state) = recorded(line);
        kinds.extend(ops.iter().map(|(op, _)| op.body.kind()));
        let mut memory = Memory::default();
        add(&mut memory, &ops);
        assert_eq!(
            memory.text(),
            state,
            "history {at}: a kind means something else than when it was recorded"
        );
    }
    assert_eq!(text.lines().count() as u64, RECORDED.0);
    assert!(kinds.len() > 45, "the histories hold nearly all kinds: {kinds:?}");
}

#[test]
fn no_fold_reads_what_can_be_blanked() {
    let text = fs::read_to_string(file("version-4.jsonl")).expect("the record");
    let mut blanked = std::collections::BTreeSet::new();
    for line in text.lines() {
        let (mut ops, state) = recorded(line);
        for (op, _) in &mut ops {
            let fields: Vec<String> =
                personal(op.body.kind()).iter().map(|field| (*field).to_owned()).collect();
            if let Some(body) = op.body.blanked(&fields) {
                blanked.insert(body.kind());
                op.body = body;
            }
        }
        let mut memory = Memory::default();
        add(&mut memory, &ops);
        assert!(memory.text() == state, "a fold reads words that can be blanked");
    }
    assert!(blanked.len() > 5, "words of many kinds were blanked: {blanked:?}");
}
