//! Parents were counted by the records as they were; what comes in later of an earlier day is found, and only that.

use serde_json::json;
use tarn_domain::rooms::FindingKind;
use tarn_domain::state::{across, view};
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
    let all = across(&room.memory).into_iter();
    all.filter(|(_, finding)| finding.kind == FindingKind::ParentsOtherwise).map(|(thing, _)| thing).collect()
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
    let fresh = |room: &Ledger| view(room.memory.states()).records().known();
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

/// The server refuses circles; records that were brought in may hold one all the same.
#[test]
fn of_a_circle_the_latest_correction_does_not_count_and_is_found() {
    let mut room = Ledger::new();
    let pair = |stock: u128, node: u128| [(); 2].map(|()| side(&[(stock, id(node), 1, None)]));
    room.established(1, 0x50, 0x60, &[("male", 1), ("female", 1)]);
    room.young(10, 0x70, pair(0x50, 0x60));
    room.young(20, 0x80, pair(0x70, 0x70));
    let [sires, _] = pair(0x80, 0x80);
    let wrong = room.write(25, json!({"op": "brood.corrected", "brood": id(0x70), "sires": sires}));
    let all = across(&room.memory);
    let tangled: Vec<_> = all.iter().filter(|(_, found)| found.kind == FindingKind::OwnAncestor).collect();
    assert_eq!(
        tangled.iter().map(|(thing, found)| (*thing, found.op)).collect::<Vec<_>>(),
        [(Entity::from(node(0x70)), wrong)]
    );
    let known = room.memory.lineage();
    let before = |n: u128| {
        let parents = known[&node(n)].before().into_iter();
        parents.map(|of| tarn_domain::lineage::group_of(of, |of| known.get(&of)).id()).collect::<Vec<_>>()
    };
    assert_eq!(before(0x70), [Some(node(0x60)); 2], "as it was told before");
    assert_eq!(before(0x80), [Some(node(0x70)); 2]);
    // corrected again, nothing is left to put right
    let [sires, _] = pair(0x50, 0x60);
    room.write(26, json!({"op": "brood.corrected", "brood": id(0x70), "sires": sires}));
    assert!(across(&room.memory).is_empty());
}

/// Without any correction, of a circle somebody's parents don't count at all.
#[test]
fn a_circle_that_was_told_from_the_first_has_an_end() {
    let mut room = Ledger::new();
    room.established(1, 0x50, 0x60, &[("male", 1), ("female", 1)]);
    let of = |node: u128| side(&[(0x50, id(node), 1, None)]);
    room.young(10, 0x70, [of(0x80), of(0x60)]);
    room.young(20, 0x80, [of(0x70), of(0x60)]);
    let known = room.memory.lineage();
    assert!(known[&node(0x80)].before().is_empty(), "the one with the greater id");
    assert_eq!(known[&node(0x70)].before().len(), 2);
    assert_eq!(across(&room.memory).len(), 1);
}
