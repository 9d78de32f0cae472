//! The catalogue of ops: every kind reads and writes the same, and everything else is refused by name, whatever the
//! bytes are.

#[path = "catalogue/samples.rs"]
mod samples;

use std::collections::BTreeSet;

use proptest::prelude::*;
use serde_json::{Value, json};
use tarn_domain::catalogue::{kinds, op_text, read_op, read_op_text, writer};
use tarn_domain::streams::canonical::text;
use tarn_domain::streams::{LARGEST_OP, NotAnOp};

use samples::{full, id, leaves, objects, op};

fn refusal(value: Value) -> NotAnOp {
    let shown = value.to_string();
    let no = read_op(value).err().unwrap_or_else(|| panic!("read: {shown}"));
    let in_text = read_op_text(&shown).err();
    assert!(in_text.is_some(), "read as a text: {shown}");
    no
}

fn kind(body: &Value) -> &str {
    body["op"].as_str().expect("a kind")
}

#[test]
fn there_is_a_full_sample_of_every_kind() {
    let samples = full();
    let of: BTreeSet<&str> = samples.iter().map(kind).collect();
    for known in kinds() {
        assert!(of.contains(known.kind), "no sample of {}", known.kind);
        let sample = samples.iter().find(|body| kind(body) == known.kind).expect("just seen");
        let fields = known.fields.get("properties").and_then(Value::as_object).expect("fields");
        for name in fields.keys() {
            assert!(sample.get(name).is_some(), "the sample of {} lacks {name}", known.kind);
        }
        assert_eq!(writer(known.kind), Some(known.written_by));
    }
    assert_eq!(of.len(), kinds().len());
}

#[test]
fn every_kind_reads_and_writes_the_same() {
    for body in full() {
        let written = text(&op(&body));
        let read = read_op_text(&written).unwrap_or_else(|e| panic!("{}: {e}", kind(&body)));
        assert_eq!(read.text, written);
        assert_eq!(op_text(&read.op), written);
        assert_eq!(read.op.body.kind(), kind(&body));
        assert_eq!(read.op.body.to_value(), body);
        // In any spelling of the same JSON.
        let spread = serde_json::to_string_pretty(&op(&body)).expect("JSON");
        assert_eq!(read_op_text(&spread), Ok(read));
    }
}

#[test]
fn an_unknown_kind_or_field_is_named() {
    let strange = |no: NotAnOp, name: &str| {
        assert_eq!(no.code(), "op-unknown", "{no}");
        assert!(no.to_string().contains(name), "{no} does not name {name}");
    };
    strange(refusal(op(&json!({"op": "stock.teleported", "stock": id(5)}))), "stock.teleported");
    for body in full() {
        for object in objects(&body) {
            let mut more = body.clone();
            let at = more.pointer_mut(&object).expect("there").as_object_mut().expect("an object");
            at.insert("zest".into(), json!(1));
            // What a node is has one name and no fields of its own; of two names neither is known to be meant.
            if object.ends_with("/is") {
                assert_eq!(refusal(op(&more)).code(), "op-malformed");
                continue;
            }
            strange(refusal(op(&more)), "zest");
        }
    }
    let mut more = op(&full()[0]);
    more["zest"] = json!(1);
    strange(refusal(more), "zest");
}

#[test]
fn a_wrong_value_is_named_by_its_path() {
    for body in full() {
        for (path, leaf) in leaves(&body) {
            let mut wrong = vec![json!({}), json!([[]])];
            match leaf {
                Value::String(_) => wrong.extend([json!(7), json!(true)]),
                Value::Number(_) => {
                    wrong.extend([json!("7"), json!(-1), json!(1.5), json!(9_007_199_254_740_993_u64)])
                }
                _ => wrong.push(json!("true")),
            }
            // What counts down from nothing: only prices, measured values and what is open of a parcel can.
            let open = kind(&body) == "parcel.settled" && path.ends_with("/n");
            let signed = open
                || ["price_minor", "milli", "least", "mean", "most"].iter().any(|end| path.ends_with(end));
            wrong.retain(|w| *w != json!(-1) || !signed);
            for wrong in wrong {
                let mut bad = op(&body);
                *bad["body"].pointer_mut(&path).expect("there") = wrong.clone();
                match refusal(bad) {
                    NotAnOp::Malformed { pointer, .. } => {
                        assert_eq!(pointer, format!("/body{path}"), "{} with {wrong} at {path}", kind(&body))
                    }
                    other => panic!("{} with {wrong} at {path}: {other}", kind(&body)),
                }
            }
        }
    }
}

/// Ids, times and words of a closed list.
#[test]
fn a_text_that_is_none_of_those_allowed_is_named_by_its_path() {
    for body in full() {
        for (path, leaf) in leaves(&body) {
            let Some(old) = leaf.as_str() else { continue };
            let is_id = old.len() == 36 && old.starts_with("0190");
            let is_time = old.ends_with('Z') && old.len() == 20;
            let name = path.rsplit('/').next().expect("a name");
            let is_word = [
                "sex", "cause", "draw", "seen", "origin", "related", "keeping", "node", "how", "blocker",
                "with", "outcome",
            ]
            .contains(&name)
                || ["restart", "quarantine", "ph", "heater", "corrected"].contains(&old);
            if !(is_id || is_time || is_word) {
                continue;
            }
            let others = [format!("{old} "), old.to_uppercase(), old.to_lowercase(), String::new()];
            for wrong in others.into_iter().filter(|other| other != old) {
                let mut bad = op(&body);
                *bad["body"].pointer_mut(&path).expect("there") = json!(wrong);
                match refusal(bad) {
                    NotAnOp::Malformed { pointer, .. } => {
                        assert_eq!(pointer, format!("/body{path}"), "{wrong:?}")
                    }
                    other => panic!("{wrong:?} at {path}: {other}"),
                }
            }
        }
    }
}

#[test]
fn a_missing_field_is_named() {
    for known in kinds() {
        let body = full().into_iter().find(|body| kind(body) == known.kind).expect("a sample");
        let needed = known.fields.get("required").and_then(Value::as_array).cloned().unwrap_or_default();
        for name in needed.iter().filter_map(Value::as_str) {
            let mut less = body.clone();
            less.as_object_mut().expect("an object").remove(name);
            let no = refusal(op(&less));
            assert_eq!(no.code(), "op-malformed", "{} without {name}: {no}", known.kind);
            assert!(no.to_string().contains(name), "{} without {name}: {no}", known.kind);
        }
    }
}

#[test]
fn the_envelope_is_as_strict() {
    let good = op(&full()[0]);
    let with = |field: &str, value: Value| {
        let mut op = good.clone();
        op[field] = value;
        match refusal(op) {
            NotAnOp::Malformed { pointer, .. } => assert_eq!(pointer, format!("/{field}")),
            other => panic!("{field}: {other}"),
        }
    };
    // Of version 4, not 7.
    with("id", json!("9b2e1f04-7c1d-4a6b-8f0e-2d6c5b4a3f21"));
    for field in ["id", "device", "clock", "at", "body"] {
        for wrong in [json!(null), json!(1), json!("now"), json!([])] {
            with(field, wrong);
        }
    }
    with("at", json!("2026-03-01T09:28:00+01:00"));
    with("clock", json!("2026-03-01T09:30:00.123Z/004"));
    assert_eq!(refusal(json!([])).code(), "op-malformed");
}

/// Never later than the writer's clock, cut to seconds.
#[test]
fn nothing_is_dated_after_its_clock() {
    let dated = |at: &str| {
        let mut op = op(&full()[0]);
        op["at"] = json!(at);
        op
    };
    assert!(read_op(dated("2026-03-01T09:30:00Z")).is_ok());
    assert_eq!(refusal(dated("2026-03-01T09:30:01Z")).code(), "at-ahead");
}

#[test]
fn sixteen_kibibytes_are_the_most() {
    let long = |n: usize| op(&json!({"op": "note.written", "text": "x".repeat(n)}));
    let room = LARGEST_OP - text(&long(0)).len();
    assert_eq!(read_op(long(room)).map(|read| read.text.len()), Ok(LARGEST_OP));
    assert_eq!(refusal(long(room + 1)).code(), "op-too-large");
    // Spaces between do not count: it is the canonical text that is kept.
    let spread = format!("{}{}", " ".repeat(LARGEST_OP), op(&full()[0]));
    assert!(read_op_text(&spread).is_ok());
}

fn any_json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<u64>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        "\\PC{0,12}".prop_map(Value::from),
        Just(json!("unassigned")),
        Just(json!(id(5))),
    ];
    leaf.prop_recursive(3, 24, 5, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..5).prop_map(Value::from),
            prop::collection::btree_map("[a-z_~/]{1,6}|op|stock|rows|tank", inner, 0..5)
                .prop_map(|map| Value::Object(map.into_iter().collect())),
        ]
    })
}

/// Whatever it says, it never panics; and what it lets in has one text.
fn read_anything(value: Value) -> Result<(), TestCaseError> {
    let shown = value.to_string();
    let read = read_op(value);
    prop_assert_eq!(&read, &read_op_text(&shown));
    if let Ok(read) = read {
        prop_assert_eq!(read_op_text(&read.text), Ok(read));
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_json_is_read_or_refused(value in any_json()) {
        read_anything(value)?;
    }

    #[test]
    fn any_body_is_read_or_refused(of in 0..full().len(), value in any_json()) {
        let mut body = value;
        if let Some(fields) = body.as_object_mut() {
            fields.insert("op".into(), full()[of]["op"].clone());
        }
        read_anything(op(&body))?;
    }

    #[test]
    fn a_good_op_with_something_else_in_it_is_read_or_refused(of in 0..full().len(), at in any::<prop::sample::Index>(), value in any_json()) {
        let mut bent = op(&full()[of]);
        let places = leaves(&bent);
        let (path, _) = at.get(&places);
        *bent.pointer_mut(path).expect("there") = value;
        read_anything(bent)?;
    }

    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,60}") {
        let _ = read_op_text(&text);
    }
}
