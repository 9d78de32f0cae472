//! The short way to read an op against the long one: on canonical texts of every kind, and on texts with a few bytes
//! changed, both say the same.

#[allow(dead_code, reason = "another test needs the rest")]
#[path = "fold/bodies.rs"]
mod bodies;
#[path = "fold/clock.rs"]
mod clock;
mod dice;
#[path = "fold/history.rs"]
mod history;
#[allow(dead_code, reason = "another test needs the rest")]
#[path = "fold/kin.rs"]
mod kin;

use std::collections::BTreeSet;

use tarn_domain::catalogue::{Body, kinds, op_text, read_op, read_op_text};
use tarn_domain::streams::{NotAnOp, Read, is_plain};

use dice::{Dice, cases};
use history::Author;

/// The long way alone.
fn long_way(text: &str) -> Result<Read<Body>, NotAnOp> {
    let value = serde_json::from_str(text).map_err(|e| NotAnOp::malformed("", format!("no JSON: {e}")))?;
    read_op(value)
}

/// Other bytes, but still characters.
fn bend(dice: &mut Dice, text: &str) -> String {
    let mut chars: Vec<char> = text.chars().collect();
    for _ in 0..=dice.below(3) {
        let at = dice.below(chars.len());
        let other = dice.pick(&[
            ' ', '"', '\\', '0', '9', '.', 'e', '-', ',', ':', '{', '}', '[', ']', 'a', 'ä', '\u{1}',
        ]);
        match dice.below(4) {
            0 => drop(chars.remove(at)),
            1 => chars.insert(at, other),
            2 => chars[at] = other,
            _ => {
                let to = at + dice.below(chars.len() - at);
                let copy = chars[at..to].to_vec();
                chars.splice(to..to, copy);
            }
        }
    }
    chars.into_iter().collect()
}

#[test]
fn both_ways_read_the_same() {
    let mut seen = BTreeSet::new();
    let mut bent_but_read = 0;
    for seed in 0..cases(2_000) {
        let mut author = Author::of(seed);
        for (op, _) in author.history(8) {
            let text = op_text(&op);
            assert!(is_plain(&text), "{text}");
            seen.insert(op.body.kind());
            let read = read_op_text(&text);
            assert_eq!(read, long_way(&text), "{text}");
            assert_eq!(read.map(|read| (read.op, read.text)), Ok((op, text.clone())));
            let bent = bend(&mut author.dice, &text);
            let read = read_op_text(&bent);
            bent_but_read += usize::from(read.is_ok());
            assert_eq!(read, long_way(&bent), "{bent}");
        }
    }
    assert!(seen.len() > 35 && seen.len() <= kinds().len(), "{seen:?}");
    assert!(bent_but_read > 100, "{bent_but_read}");
}
