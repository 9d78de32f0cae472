//! Which entries can no longer be taken back: those by which fish are there that a decision let go.

use serde_json::{Value, json};
use tarn_domain::streams::OpId;

use crate::ledger::{Ledger, TANK, id, rows, side};
use crate::rooms::{handed, packed, sent};

const PARENTS: u128 = 0x50;
const BROOD: u128 = 0x70;
const PARCEL: u128 = 0x80;

/// A room in which young were found; which entries made their tank, their parents' stock, and them.
fn room() -> (Ledger, [OpId; 3]) {
    let mut room = Ledger::new();
    let tank = room.ops[0].0.id;
    let parents = room.established(1, PARENTS, 0x60, &[("male", 1), ("female", 2)]);
    let of = |n| side(&[(PARENTS, id(0x60), n, None)]);
    let young = room.young(5, BROOD, [of(1), of(2)]);
    (room, [tank, parents, young])
}

fn send(room: &mut Ledger, stock: u128) -> [OpId; 2] {
    let relies = handed(room, 7, PARCEL, json!([packed(stock, json!(id(BROOD)), "unsexed", 3)]));
    sent(room, 7, PARCEL, relies, None);
    relies
}

fn relied(room: &Ledger, ops: &[OpId]) -> Vec<bool> {
    ops.iter().map(|op| room.memory.is_relied_on(*op)).collect()
}

#[test]
fn where_all_fish_are_at_home_anything_may_be_taken_back() {
    let (mut room, ops) = room();
    assert_eq!(relied(&room, &ops), [false; 3]);
    // packed, but not let go: the packing falls with the fish
    handed(&mut room, 7, PARCEL, json!([packed(BROOD, json!(id(BROOD)), "unsexed", 3)]));
    assert_eq!(relied(&room, &ops), [false; 3]);
}

#[test]
fn what_made_fish_that_left_stays_and_so_do_their_tank_and_their_parents_stock() {
    let (mut room, ops) = room();
    let other = room.established(2, 0x51, 0x61, &[("male", 1)]);
    let packing = send(&mut room, BROOD);
    assert_eq!(relied(&room, &ops), [true; 3]);
    assert_eq!(relied(&room, &packing), [true; 2], "the decision names them");
    assert_eq!(relied(&room, &[other]), [false]);
    // a loss makes nothing that anybody rests on
    let lost = room.lost(8, BROOD, BROOD, &[("unsexed", 1)]);
    assert!(!room.memory.is_relied_on(lost));
}

#[test]
fn also_where_they_were_split_off_before_they_left() {
    let (mut room, ops) = room();
    let split = room.split(6, (BROOD, 0x52), BROOD, &[("unsexed", 5)]);
    send(&mut room, 0x52);
    assert_eq!(relied(&room, &[split]), [true]);
    assert_eq!(relied(&room, &ops), [true; 3]);
}

/// The keeper and the co-keeper both wrote down that the young were found.
#[test]
fn what_another_entry_makes_as_well_may_be_taken_back_and_then_the_other_may_not() {
    let (mut room, [tank, _, young]) = room();
    let body: Value =
        room.ops.iter().find(|(op, _)| op.id == young).map(|(op, _)| op.body.to_value()).expect("there");
    let again = room.write(6, body);
    send(&mut room, BROOD);
    assert_eq!(relied(&room, &[young, again]), [false, false]);
    room.withdraw(8, again);
    assert_eq!(relied(&room, &[young]), [true]);
    assert_eq!(room.parcel(PARCEL).open().total(), 3, "the fish have left all the same");
    // the tank of the parents is not taken apart from them
    assert!(room.memory.is_relied_on(tank));
}

#[test]
fn nor_does_it_rest_on_an_entry_that_does_not_count_or_on_a_log() {
    let (mut room, _) = room();
    // a stock in which a taken-back arrival was
    let had = room.established(2, 0x53, 0x63, &[("male", 1)]);
    room.write(3, json!({"op": "note.written", "stock": id(0x53), "text": "lively"}));
    let merged = room.merged(4, (0x53, PARENTS), 0x63, &[("male", 1)]);
    assert_eq!(relied(&room, &[had, merged]), [false, false]);
    let relies = handed(&mut room, 7, PARCEL, json!([packed(PARENTS, json!(id(0x63)), "male", 1)]));
    sent(&mut room, 7, PARCEL, relies, None);
    // the fish that left had joined their new stock, which is there without them
    assert_eq!(relied(&room, &[had, merged]), [false, false]);
    let _ = (rows(0x63, &[]), TANK);
}
