//! A colony that spawns every day: four males may be the father, the picks of several days are one brood. And a
//! livebearer that came in mated, whose young have a father whom nobody here has seen.

use serde_json::Value;

use super::Season;

pub(super) fn colony_spawns(s: &mut Season) {
    s.day(12);
    s.marta.done(&["sync"]);
    s.marta.done(&["tank", "add", "N1", "--volume", "45l"]);
    s.marta.done(&[
        "stock",
        "add",
        "Gertrudes",
        "4.6",
        "--tank",
        "N1",
        "--species",
        "Pseudomugil gertrudae",
        "--keeping",
        "colony",
    ]);
    s.marta.done(&["sync"]);
    s.phone.done(&["sync"]);
    s.tell("Day 12: Marta sets a colony of four males and six females up in a tank of its own.");

    s.day(14);
    s.marta.done(&["spawn", "seen", "--parents", "Gertrudes"]);
    let who = s.marta.json(&["spawn", "candidates", "N1", "--from", "yesterday"]);
    assert_eq!((who["sires"][0]["n"].as_u64(), who["dams"][0]["n"].as_u64()), (Some(4), Some(6)), "{who}");
    s.marta.done(&["spawn", "eggs", "PG-26-01", "18", "--there", "N1"]);
    let brood = s.marta.json(&["brood", "show", "PG-26-01"]);
    assert_eq!(brood["sires"]["of"][0]["n"].as_u64(), Some(4), "all that were there: {brood}");
    s.marta.done(&["sync"]);
    s.phone.done(&["sync"]);
    s.tell("Day 14: she picks 18 eggs. Any of the four males may be the father, and the brood says so.");

    s.day(15);
    s.phone.done(&["spawn", "eggs", "PG-26-01", "11", "--more"]);
    s.marta.done(&["spawn", "eggs", "PG-26-01", "7", "--more"]);
    s.phone.done(&["sync"]);
    s.marta.done(&["sync"]);
    s.phone.done(&["sync"]);
    let under_way = s.phone.json(&["spawn", "list"]);
    assert_eq!(under_way.as_array().map(Vec::len), Some(1), "one spawning: {under_way}");
    assert_eq!(under_way[0]["eggs"].as_u64(), Some(36), "{under_way}");
    assert_eq!(under_way[0]["broods"].as_array().map(Vec::len), Some(1), "one brood: {under_way}");
    assert_eq!(s.marta.json(&["spawn", "list"]), under_way, "both devices tell the same");
    s.tell("Day 15: phone and desk pick on without a network. Synced, all 36 eggs are one brood.");

    s.day(26);
    s.marta.done(&["stock", "lost", "PG-26-01", "3 eggs", "--cause", "eggs_failed"]);
    s.marta.done(&["spawn", "hatched", "PG-26-01"]);
    let stock = s.marta.json(&["stock", "show", "PG-26-01"]);
    assert_eq!(stock["total"].as_u64(), Some(15), "{stock}");
    s.marta.done(&["spawn", "swimming", "PG-26-01"]);
    assert_eq!(s.marta.json(&["spawn", "list"]).as_array().map(Vec::len), Some(0), "nothing is under way");
    s.marta.done(&["sync"]);
    s.tell("Day 26: three eggs were bad, fifteen hatched and swim.");
}

pub(super) fn came_in_mated(s: &mut Season) {
    s.day(27);
    s.marta.done(&["tank", "add", "N2", "--volume", "45l"]);
    s.marta.done(&[
        "stock",
        "came-in",
        "Red female",
        "1 f",
        "--from",
        "shop",
        "--tank",
        "N2",
        "--species",
        "Xiphophorus hellerii",
    ]);
    s.marta.done(&["sync"]);
    s.tell("Day 27: a single female swordtail comes from a shop, into a tank of her own.");

    s.day(32);
    s.marta.done(&["spawn", "drop", "--dams", "Red female"]);
    let found = s.marta.done(&[
        "young",
        "found",
        "XH-26-01",
        "14",
        "--there",
        "N2",
        "--sperm-days",
        "180",
        "--tank",
        "N2",
    ]);
    assert!(format!("{}{}", found.stdout, found.stderr).contains("a male nobody here knows"), "{found}");
    let brood = s.marta.json(&["brood", "show", "XH-26-01"]);
    assert_eq!(
        brood["sires"]["of"].as_array().map(Vec::len),
        Some(1),
        "nobody but a male that came before: {brood}"
    );
    let unseen = |copy: &Value| copy["is"]["founders"]["unseen"] == true;
    assert!(brood["ancestry"].as_array().into_iter().flatten().any(unseen), "a founder nobody saw: {brood}");
    let shown = s.marta.done(&["brood", "list", "--all"]);
    assert!(shown.stdout.contains("a male that a female met before she came"), "{shown}");
    s.marta.done(&["sync"]);
    s.phone.done(&["sync"]);
    s.tell("Day 32: she drops fourteen young. Their father is a male that nobody here has seen, and is written down as one.");
}
