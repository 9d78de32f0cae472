//! What others have written down: canonical JSON (RFC 8785), ids that sort by time (RFC 9562), hybrid logical clocks
//! (Kulkarni et al. 2014).

mod dice;

use proptest::prelude::*;
use serde_json::{Value, json};
use tarn_domain::catalogue::read_op;
use tarn_domain::streams::canonical::text;
use tarn_domain::streams::{Clock, parse_uuid};

use dice::{Dice, cases};

fn canonical(json: &str) -> String {
    text(&serde_json::from_str(json).expect("JSON"))
}

/// RFC 8785, section 3.2.3: names sort by UTF-16 code units, which is neither the order of code points nor of bytes.
#[test]
fn names_sort_by_utf_16_code_units() {
    let written = canonical(r#"{"\u20ac":1,"\r":2,"\ufb33":3,"1":4,"\ud83d\ude00":5,"\u0080":6,"\u00f6":7}"#);
    assert_eq!(
        written,
        "{\"\\r\":2,\"1\":4,\"\u{80}\":6,\"\u{f6}\":7,\"\u{20ac}\":1,\"\u{1f600}\":5,\"\u{fb33}\":3}"
    );
}

/// RFC 8785, section 3.2.2.3 (numbers as ECMAScript writes them). Ops hold none of these; a digest of anything else
/// would have to be the same all the same.
#[test]
fn numbers_are_written_as_ecmascript_does() {
    let vectors = [
        ("333333333.33333329", "333333333.3333333"),
        ("1E30", "1e+30"),
        ("2e-3", "0.002"),
        ("0.000000000000000000000000001", "1e-27"),
        ("-0", "0"),
    ];
    for (json, written) in vectors {
        assert_eq!(canonical(json), written);
    }
}

/// RFC 8785, section 3.2.2 and 3.2.4: the sample object (from memory).
#[test]
fn the_sample_of_the_standard() {
    let sample = r#"{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],
        "string":"\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/","literals":[null,true,false]}"#;
    let written = "{\"literals\":[null,true,false],\"numbers\":[333333333.3333333,1e+30,4.5,0.002,1e-27],\
        \"string\":\"\u{20ac}$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}";
    assert_eq!(canonical(sample), written);
}

fn any_json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        any::<String>().prop_map(Value::from),
    ];
    leaf.prop_recursive(4, 32, 6, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
            prop::collection::btree_map(any::<String>(), inner, 0..6)
                .prop_map(|map| Value::Object(map.into_iter().collect())),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_500, failure_persistence: None, ..ProptestConfig::default() })]

    /// Our one pass against a general library for RFC 8785.
    #[test]
    fn the_text_is_the_library_s(value in any_json()) {
        prop_assert_eq!(text(&value), serde_json_canonicalizer::to_string(&value).expect("JSON"));
    }

    #[test]
    fn the_text_reads_back(value in any_json()) {
        let written = text(&value);
        prop_assert_eq!(canonical(&written), written);
    }
}

/// RFC 9562, appendix A.6: a UUIDv7 of 2022-02-22T19:22:22Z.
#[test]
fn an_op_s_id_is_of_version_7() {
    let sample = "017F22E2-79B0-7CC3-98C4-DC0C0C07398F";
    assert_eq!(parse_uuid(sample), None, "one id has one spelling");
    let id = parse_uuid(&sample.to_lowercase()).expect("an id");
    assert_eq!((id.get_version_num(), id.as_u128() >> 80), (7, 1_645_557_742_000));
    let op = |id: &str| {
        json!({"id": id, "device": sample.to_lowercase(), "clock": "2022-02-22T19:22:22.000Z/0000",
            "at": "2022-02-22T19:22:22Z", "body": {"op": "note.written", "text": "x"}})
    };
    assert!(read_op(op(&sample.to_lowercase())).is_ok());
    // The same bits as version 4 and with another variant.
    for wrong in ["017f22e2-79b0-4cc3-98c4-dc0c0c07398f", "017f22e2-79b0-1cc3-98c4-dc0c0c07398f"] {
        assert!(read_op(op(wrong)).is_err(), "{wrong}");
    }
}

/// (l, c) of a clock, read off its text.
fn parts(clock: Clock) -> (i64, i64) {
    let text = clock.to_string();
    (clock.ms(), i64::from_str_radix(&text[25..], 16).expect("hex"))
}

fn clock(l: i64, c: i64) -> Clock {
    let wall = Clock::at_ms(l).to_string();
    format!("{}/{c:04x}", &wall[..24]).parse().expect("a clock")
}

/// Kulkarni, Demirbas, Madappa, Avva & Leone 2014, figure 5, a send or local event (from memory).
fn local((l, c): (i64, i64), wall: i64) -> (i64, i64) {
    let now = l.max(wall);
    (now, if now == l { c + 1 } else { 0 })
}

/// The same figure, a receive event of a message stamped `m` (from memory).
fn receive((l, c): (i64, i64), m: (i64, i64), wall: i64) -> (i64, i64) {
    let now = l.max(m.0).max(wall);
    let count = match (now == l, now == m.0) {
        (true, true) => c.max(m.1) + 1,
        (true, false) => c + 1,
        (false, true) => m.1 + 1,
        (false, false) => 0,
    };
    (now, count)
}

/// A device that has pulled remembers the greater of its clock and what it pulled; its next entry is then stamped
/// as the paper stamps a receive event.
#[test]
fn clocks_follow_the_paper() {
    let mut dice = Dice::of(1);
    for _ in 0..cases(20_000) {
        let mut part = || (1_000 + dice.of_range(0..4), dice.of_range(0..4));
        let (mine, theirs, wall) = (part(), part(), part().0);
        let (ours, others) = (clock(mine.0, mine.1), clock(theirs.0, theirs.1));
        assert_eq!(parts(ours.tick(wall)), local(mine, wall));
        assert_eq!(parts(ours.max(others).tick(wall)), receive(mine, theirs, wall));
    }
}

/// What the paper proves of them: what happened before has the lesser clock, and no clock is behind its own wall or
/// further ahead than the fastest wall there is.
#[test]
fn what_happened_before_has_the_lesser_clock() {
    for seed in 0..cases(500) {
        let mut dice = Dice::of(seed);
        let skews: Vec<i64> = (0..4).map(|_| dice.of_range(-50..50)).collect();
        let fastest = *skews.iter().max().expect("some");
        let mut clocks = [Clock::START; 4];
        let mut wall = 10_000;
        for _ in 0..60 {
            wall += dice.of_range(0..3);
            let (who, from) = (dice.below(4), dice.below(4));
            let before = clocks[who];
            let heard = if dice.percent(50) { clocks[from] } else { before };
            clocks[who] = before.max(heard).tick(wall + skews[who]);
            assert!(clocks[who] > before && clocks[who] > heard, "seed {seed}");
            let l = clocks[who].ms();
            assert!(l >= wall + skews[who] && l <= wall + fastest, "seed {seed}");
        }
    }
}
