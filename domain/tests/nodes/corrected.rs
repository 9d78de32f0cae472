//! Broods whose parents or names are told otherwise later, here and by their home room.

use serde_json::{Value, json};
use tarn_domain::lineage::{Parents, Telling};
use tarn_domain::rooms::FindingKind;
use tarn_domain::state::view;

use crate::dice::Dice;
use crate::ledger::{Entry, Ledger, folded, id, node, rows, side, stock};

const BROOD: u128 = 0x70;

/// A room with three pairs and a brood of the first.
fn room() -> Ledger {
    let mut room = Ledger::new();
    for pair in [0x50, 0x51, 0x52] {
        room.established(1, pair, pair + 0x10, &[("male", 1), ("female", 1)]);
    }
    room.young(5, BROOD, [of(0x50), of(0x50)]);
    room
}

fn of(pair: u128) -> Value {
    side(&[(pair, id(pair + 0x10), 1, None)])
}

fn pair(parents: &Option<Parents>) -> Option<u128> {
    parents.as_ref().map(|side| side.of[0].stock.0.as_u128() & 0xff)
}

/// Every order, or some of many.
fn orders(ops: &[Entry]) -> Vec<Vec<&Entry>> {
    let mut dice = Dice::of(7);
    let mut all: Vec<Vec<&Entry>> = vec![ops.iter().collect(), ops.iter().rev().collect()];
    for _ in 0..60 {
        let mut shuffled: Vec<&Entry> = ops.iter().collect();
        dice.shuffle(&mut shuffled);
        all.push(shuffled);
    }
    all
}

/// The house phone says the second pair's male, the shed's tablet the third's; the tablet's clock is the later one.
#[test]
fn of_two_corrections_that_never_saw_each_other_the_later_clock_wins_on_every_device() {
    let mut room = room();
    // the one with the later clock is dated earlier: it is when it was written that counts
    let shed = json!({"op": "brood.corrected", "brood": id(BROOD), "sires": of(0x52), "dams": of(0x52), "why": "saw him"});
    let house = json!({"op": "brood.corrected", "brood": id(BROOD), "sires": of(0x51)});
    room.write_as(8, (3, 200), shed);
    room.write_as(9, (2, 100), house);
    let brood = room.brood(BROOD);
    assert_eq!((pair(&brood.sires), pair(&brood.dams)), (Some(0x52), Some(0x52)));
    // without the later one the house's word stands, and of the mother the first
    let [sires, dams] = brood.before.clone().expect("corrected");
    assert_eq!((pair(&sires), pair(&dams)), (Some(0x51), Some(0x50)));
    assert_eq!(brood.changes.len(), 2);
    assert_eq!(brood.changes[0].why.as_deref(), Some("saw him"));
    assert!(brood.changes.iter().all(|change| change.what == Telling::Corrected));
    for order in orders(&room.ops) {
        assert_eq!(folded(order).text(), room.memory.text());
    }
}

#[test]
fn a_side_that_a_correction_does_not_name_stays_and_null_is_not_known() {
    let mut room = room();
    room.write(8, json!({"op": "brood.corrected", "brood": id(BROOD), "dams": null}));
    let brood = room.brood(BROOD);
    assert_eq!((pair(&brood.sires), pair(&brood.dams)), (Some(0x50), None));
    let groups = room.groups();
    assert!(groups.sides[&node(BROOD)][0].is_some() && groups.sides[&node(BROOD)][1].is_none());
}

#[test]
fn a_correction_that_is_taken_back_leaves_what_was_before() {
    let mut room = room();
    let op = room.write(8, json!({"op": "brood.corrected", "brood": id(BROOD), "sires": of(0x51)}));
    assert_eq!(pair(&room.brood(BROOD).sires), Some(0x51));
    room.withdraw(9, op);
    let brood = room.brood(BROOD);
    assert_eq!((pair(&brood.sires), brood.before, brood.changes.len()), (Some(0x50), None, 0));
}

/// A correction to fish of a stock that does not count is not a correction.
#[test]
fn a_correction_that_names_a_stock_taken_back_does_not_count() {
    let mut room = room();
    let had = room.established(6, 0x53, 0x63, &[("male", 1)]);
    room.write(8, json!({"op": "brood.corrected", "brood": id(BROOD), "sires": of(0x53)}));
    assert_eq!(pair(&room.brood(BROOD).sires), Some(0x53));
    room.withdraw(9, had);
    let brood = room.brood(BROOD);
    assert_eq!(pair(&brood.sires), Some(0x50));
    assert!(brood.findings.iter().any(|found| found.kind == FindingKind::Inert));
}

#[test]
fn a_new_name_is_told_field_by_field_and_the_later_clock_wins_in_each() {
    let mut room = room();
    let renamed =
        |name: Value| json!({"op": "brood.renamed", "brood": id(BROOD), "name": name, "why": "fins counted"});
    room.write_as(
        9,
        (3, 200),
        renamed(json!({"species": "Danio cf. pallidus", "line": "brook", "code": null})),
    );
    room.write_as(
        8,
        (2, 100),
        renamed(json!({"species": "Danio rosarius", "trade": "red danio", "code": "R-9"})),
    );
    let brood = room.brood(BROOD);
    assert_eq!(brood.name.species.as_deref(), Some("Danio cf. pallidus"));
    assert_eq!(brood.name.trade.as_deref(), Some("red danio"));
    assert_eq!(brood.name.line.as_deref(), Some("brook"));
    assert_eq!(brood.code, None);
    // the stock is called what its keeper calls it
    assert_eq!(room.stock(BROOD).species.as_deref(), Some("Danio pallidus"));
    for order in orders(&room.ops) {
        assert_eq!(folded(order).text(), room.memory.text());
    }
}

fn told(brood: u128, what: &str, code: &str) -> Value {
    json!({"op": "brood.told", "brood": id(brood), "what": what, "from": id(0x999), "why": "the home room's reason",
        "nodes": [{"node": id(brood), "is": {"brood": {"code": code, "sires": {"of": [{"node": id(0xbb), "n": 2}],
            "draw": "many"}}}}, {"node": id(0xbb), "is": {"founders": {"origin": "wild", "related": "siblings"}}}]})
}

/// Fish that came in a parcel, with the copy that came along; later their home room corrects it.
#[test]
fn what_the_home_room_tells_goes_before_the_copy_that_came_with_the_fish() {
    let mut room = room();
    let copy = json!([{"node": id(0xb0), "is": {"brood": {"code": "old"}}}]);
    room.write(
        3,
        json!({"op": "parcel.arrived", "parcel": id(0xf0), "stock": id(0xb1), "ancestry": copy,
        "alive": rows(0xb0, &[("unsexed", 3)])}),
    );
    let code = |room: &Ledger| view(room.memory.states()).records().known()[&node(0xb0)].code().cloned();
    assert_eq!(code(&room).as_deref(), Some("old"));
    room.write(10, told(0xb0, "corrected", "new"));
    assert_eq!(code(&room).as_deref(), Some("new"));
    let known = view(room.memory.states()).records().known().contains_key(&node(0xbb));
    assert!(known, "its ancestors came along");
    let brood = room.brood(0xb0);
    assert_eq!((brood.made, brood.changes.len(), brood.findings.len()), (None, 1, 0));
    // its ancestor is known by being told of, and nothing happened to it
    assert!(room.brood(0xbb).told.is_some() && room.brood(0xbb).changes.is_empty());
    // the latest word counts, whichever comes first
    room.write(12, told(0xb0, "renamed", "newest"));
    assert_eq!(code(&room).as_deref(), Some("newest"));
    for order in orders(&room.ops) {
        assert_eq!(folded(order).text(), room.memory.text());
    }
}

/// A brood that is told here under an id whose home is elsewhere: both stay, the home's word counts.
#[test]
fn another_brood_under_an_id_from_elsewhere_is_disputed() {
    let mut room = room();
    let op = room.write(10, told(BROOD, "disputed", "theirs"));
    let brood = room.brood(BROOD);
    let disputed: Vec<_> =
        brood.findings.iter().filter(|found| found.kind == FindingKind::Disputed).collect();
    assert_eq!(disputed.iter().map(|found| found.op).collect::<Vec<_>>(), [op]);
    assert_eq!(brood.code.as_deref(), Some("Y"), "never merged");
    assert_eq!(pair(&brood.sires), Some(0x50));
    let room_states = view(room.memory.states());
    let known = room_states.records().known();
    assert_eq!(known[&node(BROOD)].code().map(String::as_str), Some("theirs"));
    assert_eq!(known[&node(BROOD)].before(), [node(0xbb)]);
    let _ = stock;
}
