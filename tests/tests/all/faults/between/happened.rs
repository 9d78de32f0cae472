//! What happened in schedules, so that a run in which nothing of interest did can't pass for one that proves something.

use super::super::ledger::Pulled;
use super::rows::of_kind;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::ops::AddAssign;

/// What must have happened, and how often at least in so many schedules.
const FLOORS: [(&str, usize); 16] = [
    ("packed", 50),
    ("sent", 30),
    ("arrived where sent", 15),
    ("arrived elsewhere", 2),
    ("back with the giver", 2),
    ("packed unopened for the giver", 2),
    ("claimed again", 2),
    ("before it was sent", 5),
    ("with another number", 5),
    ("with dead", 8),
    ("told apart", 6),
    ("settled", 3),
    ("counted", 10),
    ("split", 15),
    ("taken back", 12),
    ("refused", 10),
];
/// In so many schedules.
const OF: u64 = 12;

/// How often what happened.
#[derive(Default)]
pub struct Happened(BTreeMap<&'static str, usize>);

impl Happened {
    /// It happened so often more.
    pub fn saw(&mut self, what: &'static str, times: usize) {
        *self.0.entry(what).or_default() += times;
    }

    /// Fails if any of it happened too seldom to prove anything. One schedule alone need not have it all.
    pub fn is_enough(&self, schedules: u64) {
        let few = FLOORS.iter().filter(|(what, floor)| {
            let times = self.0.get(what).copied().unwrap_or_default() as u64;
            times * OF < *floor as u64 * (schedules / OF * OF)
        });
        let few: Vec<&str> = few.map(|(what, _)| *what).collect();
        assert!(few.is_empty(), "too few {few:?} to prove anything: {self}");
    }

    /// Reads it from the ops of rooms, each under its keeper's account.
    pub fn read(&mut self, rooms: &[(String, Vec<Pulled>)]) {
        let all = || rooms.iter().flat_map(|(keeper, ops)| ops.iter().map(move |op| (keeper, op)));
        for (what, kind) in [
            ("packed", "parcel.packed"),
            ("settled", "parcel.settled"),
            ("counted", "stock.counted"),
            ("split", "stock.split"),
            ("merged", "stock.merged"),
            ("sexed", "stock.sexed"),
            ("lost", "stock.lost"),
            ("left", "stock.left"),
            ("born", "young.found"),
            ("taken back", "op.withdrawn"),
        ] {
            self.saw(what, all().filter(|(_, op)| op.op["body"]["op"] == kind).count());
        }
        let mut sent: BTreeMap<&str, (&String, &Pulled)> = BTreeMap::new();
        for (keeper, ops) in rooms {
            sent.extend(of_kind(ops, "parcel.sent").map(|(op, body)| (text(body, "parcel"), (keeper, op))));
        }
        self.saw("sent", sent.len());
        for (keeper, ops) in rooms {
            self.arrivals(keeper, ops, &sent);
        }
    }

    fn arrivals(&mut self, keeper: &String, ops: &[Pulled], sent: &BTreeMap<&str, (&String, &Pulled)>) {
        let mut claimed = BTreeSet::new();
        let mut bags = BTreeMap::new();
        for (op, body) in of_kind(ops, "parcel.arrived") {
            let parcel = text(body, "parcel");
            self.saw("claimed again", usize::from(!claimed.insert(parcel)));
            self.saw("with dead", usize::from(total(&body["dead"]) > 0));
            let Some((giver, left)) = sent.get(parcel) else { continue };
            bags.insert(text(body, "stock"), parcel);
            let was = &left.op["body"];
            let there = if *giver == keeper {
                "back with the giver"
            } else if was["to"] == **keeper {
                "arrived where sent"
            } else {
                "arrived elsewhere"
            };
            self.saw(there, 1);
            self.saw("before it was sent", usize::from(op.received < left.received));
            let other = total(&was["rows"]) != total(&body["alive"]) + total(&body["dead"]);
            self.saw("with another number", usize::from(other));
        }
        for (_, body) in of_kind(ops, "parcel.sent") {
            let rows = body["rows"].as_array().into_iter().flatten();
            let back = rows.filter(|row| bags.contains_key(text(row, "stock"))).count();
            self.saw("packed unopened for the giver", usize::from(back > 0));
        }
        let apart = of_kind(ops, "parcel.matched").filter(|(_, body)| total(&body["told_apart"]) > 0);
        self.saw("told apart", apart.count());
    }
}

fn text<'a>(body: &'a Value, field: &str) -> &'a str {
    body[field].as_str().unwrap_or_default()
}

fn total(rows: &Value) -> i64 {
    rows.as_array().into_iter().flatten().filter_map(|row| row["n"].as_i64()).sum()
}

impl AddAssign for Happened {
    fn add_assign(&mut self, other: Self) {
        other.0.into_iter().for_each(|(what, times)| self.saw(what, times));
    }
}

impl fmt::Display for Happened {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let all: Vec<String> = self.0.iter().map(|(what, times)| format!("{what} {times}")).collect();
        f.write_str(&all.join(", "))
    }
}
