//! Young are found and handed to another keeper, with the brood attached.

use super::{CLUB, PASSWORD, Season, refused};

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
    j.done(&["system", "set", "Sump B", "--net", "260l", "--sump", "60l"]);
    j.done(&["tank", "add", "T1", "--system", "Sump B", "--volume", "120l"]);
    j.done(&["tank", "add", "T2", "--system", "Sump B", "--volume", "80l"]);
    j.done(&["stock", "add", "Corydoras", "7", "--tank", "T1", "--species", "Corydoras paleatus"]);
    j.done(&["sync"]);
    let url = s.url();
    s.tablet
        .run_with_input(&["login", &url, "--login", "jonas", "--password-stdin"], &format!("{PASSWORD}\n"))
        .expect(0);
    s.tablet.done(&["sync"]);
    s.tablet.done(&["room", "use", "Attic"]);
    s.tell("Jonas sets up his attic: two tanks on one sump, with his corydoras in one of them.");
}

pub(super) fn too_young(s: &mut Season) {
    s.day(5);
    let packed = s.marta.run(&["parcel", "pack", "--to", "jonas", "AC-26-01=12"]);
    s.marta.run(&["sync"]);
    let refused = s.marta.done(&["sync", "refused"]);
    let said = format!("{}{}{}", packed.stdout, packed.stderr, refused.stdout);
    assert!(said.contains("has not known this stock"), "nobody can vouch for it yet: {said}");
    s.tell("Day 5: she wants to give Jonas twelve. Not yet: the server has to have known them for the days of the rule.");
}

pub(super) fn handed_over(s: &mut Season) {
    s.day(34);
    let packed = s.marta.json(&["parcel", "pack", "--to", "jonas", "AC-26-01=12"]);
    s.parcel = packed["parcel"].as_str().unwrap_or_else(|| panic!("no parcel in {packed}")).to_owned();
    s.marta.done(&["parcel", "hand", &s.parcel]);
    s.marta.done(&["sync"]);
    let stock = s.marta.json(&["stock", "show", "AC-26-01"]);
    assert_eq!(stock["total"], 22, "the server's decision took twelve: {stock}");
    s.phone.done(&["sync"]);
    s.tell("Day 34: she packs twelve and hands them over; the server decides that they have left her room.");

    let came = [
        "parcel",
        "arrive",
        &s.parcel,
        "--tank",
        "T2",
        "--alive",
        "11",
        "--dead",
        "1",
        "--name",
        "Young cacatuoides",
    ];
    refused(&s.jonas.run(&came), "shared with Corydoras");
    let arrived = s.jonas.done(&[&came[..], &["--anyway"]].concat());
    let said = format!("{}{}", arrived.stdout, arrived.stderr);
    assert!(
        said.contains("Corydoras") && said.contains("share water"),
        "home fish are told of at once: {said}"
    );
    s.jonas.done(&["sync"]);
    s.jonas.done(&["sync"]);
    let units = s.jonas.json(&["quarantine", "list"]);
    assert_eq!(units[0]["members"].as_array().map(Vec::len), Some(2), "one water is one unit: {units}");
    s.tell("Jonas insists on T2, on the sump that his corydoras share: a breach. Both are one unit now, for 30 days.");

    let pack = s.jonas.run(&["parcel", "pack", "--to", "odile", "Young cacatuoides=2"]);
    if pack.code == Some(0) {
        s.jonas.run(&["sync"]);
    }
    let listed = s.jonas.done(&["sync", "refused"]);
    let said = format!("{}{}{}", pack.stdout, pack.stderr, listed.stdout);
    assert!(said.contains("quarantine"), "it is in quarantine: {said}");
    s.tell("He may not give any of them away: they are in quarantine, and he is told until when.");
}

pub(super) fn renamed(s: &mut Season) {
    s.marta.done(&[
        "brood",
        "rename",
        "AC-26-01",
        "--line",
        "Boiler room",
        "--determined-by",
        "Marta",
        "--sure",
        "yes",
        "--why",
        "kept apart from the other cacatuoides from now on",
    ]);
    s.marta.done(&["sync"]);
    // what is queued is done in between; a sync brings it
    let told = (0..60).find_map(|_| {
        s.server.command(&["mail", "send"]).expect(0);
        s.jonas.done(&["sync"]);
        let brood = s.jonas.json(&["brood", "show", "AC-26-01"]);
        let renamed =
            brood["changes"].as_array().is_some_and(|all| all.iter().any(|c| c["what"] == "renamed"));
        renamed.then_some(brood)
    });
    let told = told.expect("Jonas is told");
    assert!(told.to_string().contains("kept apart from the other cacatuoides"), "with the reason: {told}");
    let copy = told["ancestry"].as_array().into_iter().flatten().find(|copy| copy["node"] == told["id"]);
    assert_eq!(copy.map(|copy| &copy["is"]["brood"]["line"]), Some(&"Boiler room".into()), "{told}");
    assert!(
        !told.to_string().contains("determined_by\":\"Marta"),
        "who determined it stays with her: {told}"
    );
    s.tell("She names the line of that brood. Jonas, who holds eleven of it, is told with her reason, in his own records.");
}
