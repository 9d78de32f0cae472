//! Of a history on which the two readings differ, the least part on which they still do, in short words.

use std::fmt::Write as _;

use tarn_domain::catalogue::Op;
use tarn_domain::streams::{Acceptance, At};

use crate::ops::{Record, day};
use crate::reference::Told;

type Written = (Op, Acceptance);

/// Takes out whatever is not needed for them to differ.
pub fn shrink(ops: &[Written], differ: impl Fn(&Record) -> bool) -> Record {
    let of = |ops: &[Written]| {
        let mut record = Record::of(ops);
        record.fold();
        record
    };
    let mut least = ops.to_vec();
    let mut i = least.len();
    while i > 0 {
        i -= 1;
        let mut fewer = least.clone();
        fewer.remove(i);
        if differ(&of(&fewer)) {
            least = fewer;
            i = least.len();
        }
    }
    of(&least)
}

/// A history and what both make of it.
pub fn story(record: &Record, now: At, ours: &Told, theirs: &Told) -> String {
    let mut text = String::new();
    let mut ops = record.ops.clone();
    ops.sort_by_key(|(op, _)| op.order());
    for (op, accepted) in ops {
        let received = At::from_seconds(accepted.received.0 / 1000);
        let late = if received == op.at { String::new() } else { format!(" received {received}") };
        let _ = writeln!(text, "{} {}{late} {}", op.at, op.id, op.body.to_value());
    }
    let _ = writeln!(text, "now {now}");
    for (who, told, other) in [("clock", ours, theirs), ("slow", theirs, ours)] {
        for unit in told.units.difference(&other.units) {
            let _ = writeln!(text, "{who} {unit:?}");
        }
        if (&told.waits, &told.unemptied) != (&other.waits, &other.unemptied) {
            let _ = writeln!(text, "{who} {:?} {:?}", told.waits, told.unemptied);
        }
    }
    short(&text)
}

/// Ids and times as people can tell them apart: `#7` is the seventh thing, `d3.5` noon of day 3.
fn short(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        if let Some((head, tail)) = rest.split_at_checked(36)
            && let Ok(id) = head.parse::<uuid::Uuid>()
        {
            let kind = if head.starts_with("0190e") { '!' } else { '#' };
            let _ = write!(out, "{kind}{}", id.as_u128() & 0xffff);
            rest = tail;
        } else if let Some((head, tail)) = rest.split_at_checked(20)
            && let Ok(at) = head.parse::<At>()
        {
            let half = (at.seconds() - day(0).seconds()) / 43_200;
            let _ = write!(out, "d{}{}", half.div_euclid(2), if half % 2 == 0 { "" } else { ".5" });
            rest = tail;
        } else {
            out.push(c);
            rest = &rest[c.len_utf8()..];
        }
    }
    out
}
