//! Young are found and handed to another keeper, with the brood attached.

use super::{CLUB, Season};

pub(super) fn young_found(s: &mut Season) {
    s.day(3);
    s.marta.done(&[
        "young",
        "found",
        "AC-26-01",
        "about 34",
        "--sires",
        "Cacatuoides",
        "--one-sire",
        "--dams",
        "Cacatuoides=1",
        "--one-dam",
        "--tank",
        "A4",
    ]);
    s.marta.done(&["sync"]);
    let broods = s.marta.done(&["brood", "list"]);
    assert!(broods.stdout.contains("AC-26-01"), "{broods}");
    s.tell("Day 3: Marta finds about 34 young. They are a brood, AC-26-01, with the parents as far as she knows them.");

    let j = &s.jonas;
    j.done(&["room", "create", "Attic", "--zone", "Europe/Dublin"]);
    j.done(&["sync"]);
    j.done(&["club", "use", CLUB]);
    j.done(&["tank", "add", "Q1", "--volume", "40l"]);
    j.done(&["tank", "add", "T1", "--volume", "120l"]);
    j.done(&["stock", "add", "Corydoras", "7", "--tank", "T1", "--species", "Corydoras paleatus"]);
    j.done(&["sync"]);
    s.tell("Jonas sets up his attic, with a tank that stands alone for what comes in.");
}

pub(super) fn handed_over(s: &mut Season) {
    s.day(5);
    let packed = s.marta.json(&["parcel", "pack", "--to", "jonas", "AC-26-01=12"]);
    s.parcel = packed["parcel"].as_str().unwrap_or_else(|| panic!("no parcel in {packed}")).to_owned();
    s.marta.done(&["parcel", "hand", &s.parcel]);
    s.marta.done(&["sync"]);
    let stock = s.marta.json(&["stock", "show", "AC-26-01"]);
    assert_eq!(stock["total"], 22, "the server's decision took twelve: {stock}");
    s.tell("Day 5: she packs twelve for Jonas and hands them over; the server decides that they have left her room.");

    s.jonas.done(&[
        "parcel",
        "arrive",
        &s.parcel,
        "--tank",
        "Q1",
        "--alive",
        "11",
        "--dead",
        "1",
        "--name",
        "Young cacatuoides",
    ]);
    s.jonas.done(&["sync"]);
    s.jonas.done(&["sync"]);
    let listed = s.jonas.done(&["quarantine", "list"]);
    assert!(listed.stdout.contains("running"), "{listed}");
    s.tell("Jonas puts them into Q1, one died on the way. They are in quarantine by themselves.");

    let pack = s.jonas.run(&["parcel", "pack", "--to", "odile", "Young cacatuoides=2"]);
    if pack.code == Some(0) {
        s.jonas.run(&["sync"]);
    }
    let listed = s.jonas.done(&["sync", "refused"]);
    let said = format!("{}{}{}", pack.stdout, pack.stderr, listed.stdout);
    assert!(said.contains("quarantine"), "it is in quarantine: {said}");
    s.tell("He may not give any of them away: they are in quarantine, and he is told until when.");
}
