//! What each side of a parcel sees, in the order in which it happens at the door.

use std::collections::BTreeMap;

use serde_json::{Value, json};
use tarn_domain::parcels::{Outcome, may_go};
use tarn_domain::rooms::{FindingKind, Node, Sex};
use tarn_domain::streams::OpId;

use crate::ledger::{Ledger, folded, id, node, rows};
use crate::rooms::{handed, matched, open, packed, sent};

const STOCK: u128 = 0x50;
const CAME: u128 = 0x51;
const FISH: u128 = 0x60;
const OTHERS: u128 = 0x61;
const PARCEL: u128 = 0x80;

/// Two rooms: the first has ten fish of a node, and four of another in a stock of their own.
fn rooms() -> (Ledger, Ledger) {
    let mut giver = Ledger::of(1);
    giver.established(1, STOCK, FISH, &[("male", 5), ("female", 5)]);
    giver.established(1, 0x5f, OTHERS, &[("male", 4)]);
    (giver, Ledger::of(2))
}

fn six() -> Value {
    json!([packed(STOCK, json!(id(FISH)), "male", 2), packed(STOCK, json!(id(FISH)), "female", 4)])
}

fn came(room: &mut Ledger, on: u32, stock: u128, alive: Value, dead: Value) -> OpId {
    room.write(on, json!({"op": "parcel.arrived", "parcel": id(PARCEL), "stock": id(stock), "alive": alive, "dead": dead}))
}

fn kinds(room: &Ledger) -> Vec<FindingKind> {
    room.parcel(PARCEL).findings.iter().map(|found| found.kind).collect()
}

fn nothing() -> BTreeMap<Node, i64> {
    BTreeMap::new()
}

#[test]
fn what_left_is_open_until_it_has_come_and_then_nothing_is() {
    let (mut giver, mut receiver) = rooms();
    let relies = handed(&mut giver, 5, PARCEL, six());
    assert_eq!(open(&[&giver], PARCEL), nothing(), "handed over is not left");
    assert_eq!(giver.stock(STOCK).total(), 10);
    sent(&mut giver, 5, PARCEL, relies, None);
    assert_eq!((giver.stock(STOCK).total(), giver.parcel(PARCEL).open().total()), (4, 6));
    let op =
        came(&mut receiver, 6, CAME, rows(FISH, &[("male", 2), ("female", 3)]), rows(FISH, &[("female", 1)]));
    assert_eq!(open(&[&giver, &receiver], PARCEL), nothing());
    // each room alone knows only its own side, until it is told of the other
    assert_eq!((giver.parcel(PARCEL).open_here(), receiver.parcel(PARCEL).open_here()), (6, -6));
    matched(&mut giver, &mut receiver, 6, (PARCEL, op));
    assert_eq!((giver.parcel(PARCEL).open_here(), receiver.parcel(PARCEL).open_here()), (0, 0));
    assert!(kinds(&giver).is_empty() && kinds(&receiver).is_empty());
    assert_eq!(receiver.stock(CAME).total(), 5);
}

/// Phones that find no net at the meeting: the receiver's entry is there before the giver's.
#[test]
fn what_came_first_is_open_below_nothing_and_unmatched_until_it_is_matched() {
    let (mut giver, mut receiver) = rooms();
    let op = came(&mut receiver, 6, CAME, rows(FISH, &[("male", 2), ("female", 4)]), json!([]));
    assert_eq!(kinds(&receiver), [FindingKind::Unmatched]);
    assert_eq!(open(&[&receiver], PARCEL), BTreeMap::from([(Node::Of(node(FISH)), -6)]));
    assert_eq!(receiver.stock(CAME).total(), 6, "the fish are there all the same");
    let relies = handed(&mut giver, 5, PARCEL, six());
    sent(&mut giver, 5, PARCEL, relies, None);
    assert_eq!(open(&[&giver, &receiver], PARCEL), nothing());
    matched(&mut giver, &mut receiver, 7, (PARCEL, op));
    assert!(kinds(&receiver).is_empty());
    assert_eq!(receiver.parcel(PARCEL).matched.map(|rows| rows.len()), Some(2));
    assert_eq!(folded(receiver.ops.iter().rev()).text(), receiver.memory.text());
}

#[test]
fn one_bag_cannot_come_twice_and_what_the_second_entry_says_stays_open() {
    let (mut giver, mut receiver) = rooms();
    let relies = handed(&mut giver, 5, PARCEL, six());
    sent(&mut giver, 5, PARCEL, relies, None);
    let op = came(&mut receiver, 6, CAME, rows(FISH, &[("male", 2), ("female", 4)]), json!([]));
    let twice = came(&mut receiver, 6, 0x52, rows(FISH, &[("male", 2)]), json!([]));
    matched(&mut giver, &mut receiver, 6, (PARCEL, op));
    assert_eq!(kinds(&receiver), [FindingKind::MadeTwice]);
    let side = receiver.parcel(PARCEL);
    assert_eq!(
        (side.stock, side.again.len(), side.again[0].op),
        (Some(crate::ledger::stock(CAME)), 1, twice)
    );
    assert_eq!(open(&[&giver, &receiver], PARCEL), BTreeMap::from([(Node::Of(node(FISH)), -2)]));
    receiver.withdraw(7, twice);
    assert!(kinds(&receiver).is_empty());
    assert_eq!(open(&[&giver, &receiver], PARCEL), nothing());
}

/// A receiver who types another ancestry than came with the fish.
#[test]
fn an_ancestry_that_was_not_sent_is_disputed_and_the_giver_s_word_counts() {
    let (mut giver, mut receiver) = rooms();
    let relies = handed(&mut giver, 5, PARCEL, six());
    sent(&mut giver, 5, PARCEL, relies, None);
    let word = giver.parcel(PARCEL).ancestry;
    assert_eq!(word.len(), 1);
    let forged = json!([{"node": id(FISH), "is": {"founders": {"origin": "wild", "related": "unrelated"}}}]);
    let op = receiver.write(
        6,
        json!({"op": "parcel.arrived", "parcel": id(PARCEL), "stock": id(CAME),
        "alive": rows(FISH, &[("male", 2), ("female", 4)]), "ancestry": forged}),
    );
    assert_ne!(receiver.parcel(PARCEL).ancestry, word, "unmatched, it is all there is");
    matched(&mut giver, &mut receiver, 6, (PARCEL, op));
    assert_eq!(receiver.parcel(PARCEL).ancestry, word);
    assert_eq!(kinds(&receiver), [FindingKind::Disputed]);
    // a true copy is no dispute
    let mut honest = Ledger::of(3);
    let op = honest.write(
        6,
        json!({"op": "parcel.arrived", "parcel": id(PARCEL), "stock": id(CAME),
        "alive": rows(FISH, &[("male", 2), ("female", 4)]), "ancestry": word}),
    );
    matched(&mut giver, &mut honest, 6, (PARCEL, op));
    assert!(kinds(&honest).is_empty());
}

#[test]
fn fish_that_came_without_their_brood_are_told_apart_when_the_parcel_is_matched() {
    let (mut giver, mut receiver) = rooms();
    let both =
        json!([packed(STOCK, json!(id(FISH)), "female", 4), packed(0x5f, json!(id(OTHERS)), "male", 2)]);
    let relies = handed(&mut giver, 5, PARCEL, both);
    sent(&mut giver, 5, PARCEL, relies, None);
    let typed = json!([{"node": "unassigned", "sex": "female", "n": 4}, {"node": "unassigned", "sex": "male", "n": 2}]);
    let op = came(&mut receiver, 6, CAME, typed, json!([]));
    let row = |receiver: &Ledger, node, sex| receiver.stock(CAME).numbers.get((node, sex));
    assert_eq!(row(&receiver, Node::Unassigned, Sex::Female), 4);
    matched(&mut giver, &mut receiver, 6, (PARCEL, op));
    assert_eq!(row(&receiver, Node::Of(node(FISH)), Sex::Female), 4);
    assert_eq!(row(&receiver, Node::Of(node(OTHERS)), Sex::Male), 2);
    assert_eq!(row(&receiver, Node::Unassigned, Sex::Female), 0);
    assert_eq!(receiver.stock(CAME).total(), 6);
    // and by neither brood is anything open
    assert_eq!(open(&[&giver, &receiver], PARCEL), nothing());
}

#[test]
fn fish_that_come_back_close_the_parcel_at_its_giver() {
    let (mut giver, _) = rooms();
    let relies = handed(&mut giver, 5, PARCEL, six());
    sent(&mut giver, 5, PARCEL, relies, None);
    came(&mut giver, 8, CAME, rows(FISH, &[("male", 2), ("female", 4)]), json!([]));
    let side = giver.parcel(PARCEL);
    assert!(side.is_returned());
    assert!(side.findings.is_empty(), "its own room knows what was in it: {:?}", side.findings);
    assert_eq!(open(&[&giver], PARCEL), nothing());
    assert_eq!(giver.stock(STOCK).total() + giver.stock(CAME).total(), 10);
}

fn settle(giver: &mut Ledger, on: u32, outcome: &str, sex: &str, n: i64) -> OpId {
    let rows = json!([{"node": id(FISH), "sex": sex, "n": n}]);
    giver.write(
        on,
        json!({"op": "parcel.settled", "parcel": id(PARCEL), "outcome": outcome, "rows": rows,
        "why": "the post lost it", "officer": id(0x90), "relies": []}),
    )
}

#[test]
fn what_an_officer_settles_is_open_no_more_and_two_settlements_add_up() {
    let (mut giver, _) = rooms();
    let relies = handed(&mut giver, 5, PARCEL, six());
    sent(&mut giver, 5, PARCEL, relies, None);
    settle(&mut giver, 20, "lost", "male", 2);
    assert_eq!(open(&[&giver], PARCEL), BTreeMap::from([(Node::Of(node(FISH)), 4)]));
    let last = settle(&mut giver, 21, "returned", "female", 4);
    assert_eq!(open(&[&giver], PARCEL), nothing());
    let side = giver.parcel(PARCEL);
    let settled = side.settled.expect("settled");
    assert_eq!((settled.op, settled.outcome), (last, Outcome::Returned));
    assert_eq!(side.settled_before.iter().map(|s| s.outcome).collect::<Vec<_>>(), [Outcome::Lost]);
    // more came than were sent: below nothing
    settle(&mut giver, 22, "arrived", "male", -1);
    assert_eq!(giver.parcel(PARCEL).open().total(), 1);
    assert_eq!(folded(giver.ops.iter().rev()).text(), giver.memory.text());
}

#[test]
fn if_the_numbers_differ_both_stay_and_both_sides_see_it() {
    let (mut giver, mut receiver) = rooms();
    let relies = handed(&mut giver, 5, PARCEL, six());
    sent(&mut giver, 5, PARCEL, relies, None);
    let op = came(&mut receiver, 6, CAME, rows(FISH, &[("male", 2), ("female", 3)]), json!([]));
    matched(&mut giver, &mut receiver, 6, (PARCEL, op));
    assert_eq!(kinds(&giver), [FindingKind::NumbersDiffer]);
    assert_eq!(kinds(&receiver), [FindingKind::NumbersDiffer]);
    assert_eq!(giver.parcel(PARCEL).open_here(), 1);
    // the giver's room sees it until an officer settles it
    settle(&mut giver, 20, "lost", "female", 1);
    assert!(kinds(&giver).is_empty());
    assert_eq!(open(&[&giver, &receiver], PARCEL), nothing());
}

/// At a desk bags are counted again: what the server let go counts, not what was packed.
#[test]
fn what_was_counted_out_is_what_left() {
    let (mut giver, mut receiver) = rooms();
    let relies = handed(&mut giver, 5, PARCEL, six());
    let counted =
        json!([packed(STOCK, json!(id(FISH)), "male", 2), packed(STOCK, json!(id(FISH)), "female", 3)]);
    sent(&mut giver, 5, PARCEL, relies, Some(counted));
    assert_eq!((giver.stock(STOCK).total(), giver.parcel(PARCEL).open().total()), (5, 5));
    let op = came(&mut receiver, 6, CAME, rows(FISH, &[("male", 2), ("female", 3)]), json!([]));
    matched(&mut giver, &mut receiver, 6, (PARCEL, op));
    assert!(kinds(&giver).is_empty() && kinds(&receiver).is_empty());
    assert_eq!(open(&[&giver, &receiver], PARCEL), nothing());
}

#[test]
fn a_steward_s_word_is_there_before_anything_is_packed() {
    let (mut giver, _) = rooms();
    giver.write(
        3,
        json!({"op": "parcel.agreed", "parcel": id(PARCEL), "stocks": [id(STOCK), id(STOCK)],
        "to": id(0x91), "login": "mira", "why": "the flat is let", "steward": id(0x90), "relies": []}),
    );
    let side = giver.parcel(PARCEL);
    let agreed = side.agreed.clone().expect("agreed");
    assert_eq!((agreed.stocks.len(), agreed.login.as_str()), (1, "mira"));
    assert!(side.findings.is_empty() && may_go(&side, &[]).is_err(), "nothing is packed yet");
    handed(&mut giver, 5, PARCEL, six());
    assert!(giver.parcel(PARCEL).agreed.is_some() && may_go(&giver.parcel(PARCEL), &[]).is_ok());
}
