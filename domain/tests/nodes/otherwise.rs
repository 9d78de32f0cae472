//! Parents were counted by the records as they were; what comes in later of an earlier day is found, and only that.

use serde_json::json;
use tarn_domain::state::parents_otherwise;
use tarn_domain::streams::Entity;

use crate::ledger::{Ledger, id, node, rows, side};

const BROOD: u128 = 0x70;

/// A colony of four males and five females, and a brood of which all may be parents.
fn colony() -> Ledger {
    let mut room = Ledger::new();
    room.established(1, 0x50, 0x60, &[("male", 4), ("female", 5)]);
    room.young(10, BROOD, [side(&[(0x50, id(0x60), 4, None)]), side(&[(0x50, id(0x60), 5, None)])]);
    room
}

fn found(room: &Ledger) -> Vec<Entity> {
    parents_otherwise(&room.memory).into_iter().map(|(thing, _)| thing).collect()
}

#[test]
fn what_happens_after_the_spawn_says_nothing_of_its_parents() {
    let mut room = colony();
    room.write(
        12,
        json!({"op": "stock.lost", "stock": id(0x50), "rows": rows(0x60, &[("male", 1)]), "cause": "fight"}),
    );
    assert_eq!(found(&room), []);
}

#[test]
fn a_loss_of_an_earlier_day_that_is_written_down_later_is_found_until_the_brood_is_corrected() {
    let mut room = colony();
    room.write(
        8,
        json!({"op": "stock.lost", "stock": id(0x50), "rows": rows(0x60, &[("male", 1)]), "cause": "fight"}),
    );
    assert_eq!(found(&room), [Entity::from(node(BROOD))]);
    let three = side(&[(0x50, id(0x60), 3, None)]);
    room.write(13, json!({"op": "brood.corrected", "brood": id(BROOD), "sires": three}));
    assert_eq!(found(&room), [], "it says now what the records say");
}

#[test]
fn so_is_an_entry_of_an_earlier_day_that_is_taken_back() {
    let mut room = Ledger::new();
    room.established(1, 0x50, 0x60, &[("male", 4), ("female", 5)]);
    let lost =
        json!({"op": "stock.lost", "stock": id(0x50), "rows": rows(0x60, &[("male", 1)]), "cause": "fight"});
    let lost = room.write(8, lost);
    room.young(10, BROOD, [side(&[(0x50, id(0x60), 3, None)]), side(&[(0x50, id(0x60), 5, None)])]);
    assert_eq!(found(&room), []);
    room.write(12, json!({"op": "op.withdrawn", "entry": lost}));
    assert_eq!(found(&room), [Entity::from(node(BROOD))]);
}

#[test]
fn who_narrowed_the_parents_knew_more_than_the_numbers() {
    let mut room = Ledger::new();
    room.established(1, 0x50, 0x60, &[("male", 4), ("female", 5)]);
    room.young(10, BROOD, [side(&[(0x50, id(0x60), 1, None)]), side(&[(0x50, id(0x60), 5, None)])]);
    assert_eq!(found(&room), [], "one of the four, as the keeper saw");
    room.write(8, json!({"op": "stock.described", "stock": id(0x50), "note": "restless"}));
    assert_eq!(found(&room), [], "what changes no number changes nothing");
}

#[test]
fn what_a_room_knows_of_lineage_is_kept_only_until_something_changes() {
    let mut room = colony();
    let fresh = |room: &Ledger| tarn_domain::state::view(room.memory.states()).records().known();
    assert_eq!(*room.memory.lineage(), fresh(&room));
    room.write(11, json!({"op": "note.written", "text": "all well"}));
    assert_eq!(*room.memory.lineage(), fresh(&room));
    let renamed =
        json!({"op": "brood.renamed", "brood": id(BROOD), "name": {"line": "North"}, "why": "kept apart"});
    let renamed = room.write(12, renamed);
    assert_eq!(*room.memory.lineage(), fresh(&room), "another name");
    room.write(
        8,
        json!({"op": "stock.lost", "stock": id(0x50), "rows": rows(0x60, &[("male", 1)]), "cause": "fight"}),
    );
    assert_eq!(*room.memory.lineage(), fresh(&room), "fewer may have bred");
    room.withdraw(13, renamed);
    assert_eq!(*room.memory.lineage(), fresh(&room), "what was taken back");
    assert_eq!(room.memory.lineage()[&node(BROOD)].brood().and_then(|brood| brood.line.clone()), None);
}
