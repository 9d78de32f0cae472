//! What comes in late can recall a sign-off; only a new one frees the fish.

use serde_json::Value;

use super::Season;
use super::signing::{same_everywhere, unit};

pub(super) fn recalled(s: &mut Season) {
    // Only the tablet is looked at then, far from any network; the server's clock never goes back.
    s.tablet.set_clock(Some("-32d".into()));
    s.tablet.done(&["stock", "lost", "Young cacatuoides", "1", "--cause", "unknown"]);
    s.day(90);
    s.tablet.done(&["sync"]);
    s.jonas.done(&["sync"]);
    s.phone.done(&["sync"]);
    s.marta.done(&["sync"]);
    let (_, state, unit) = unit(&s.odile);
    assert_eq!(state, "recalled", "{unit}");
    let shown = s.jonas.json(&["quarantine", "list"]);
    assert_eq!(shown[0]["state"], "recalled", "client and server say the same: {shown}");
    s.jonas.done(&["sync"]);
    same_everywhere(s);
    s.marta.done(&["sync"]);
    let found = s.marta.json(&["findings"]);
    assert!(found.to_string().contains("received-from-recalled"), "who got fish of it is told: {found}");
    let history = s.jonas.done(&["history"]);
    assert!(history.stdout.contains("recalled"), "it is told when it was noticed: {history}");
    s.tell(
        "Day 90: an old tablet comes back into the network. It knows of a fish that died on day 80, nobody knows of \
         what. With that the days were not done: the sign-off is recalled, and counts as never given. Marta, who got two, is \
         told in her own records.",
    );
}

pub(super) fn signed_again(s: &mut Season) {
    s.looks(&[91, 97, 103, 109]);
    s.day(112);
    s.jonas.done(&["look", "done", "--all"]);
    s.jonas.done(&["sync"]);
    let (id, _, unit) = unit(&s.odile);
    let keys: Vec<String> = unit["blockers"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|blocker| {
            format!("{}=Jonas explained it, and I saw the fish.", blocker["key"].as_str().unwrap_or_default())
        })
        .collect();
    assert!(!keys.is_empty(), "what came late has to be let pass: {unit}");
    let plain = s.odile.run(&["quarantine", "sign-off", &id, "--seen", "visit"]);
    assert_eq!(plain.code, Some(1), "not without reading what came late: {plain}");
    let mut line = vec!["quarantine", "sign-off", &id, "--seen", "visit"];
    for key in &keys {
        line.extend(["--let-pass", key.as_str()]);
    }
    s.odile.done(&line);
    s.tell("Day 112: the days are done again. Odile lets the late entry pass, in writing, and signs anew.");

    s.jonas.done(&["sync"]);
    let packed = s.jonas.json(&["parcel", "pack", "--to", "odile", "Young cacatuoides=2"]);
    s.jonas.done(&["sync"]);
    let kept = s.jonas.done(&["sync", "refused", "--json"]).json();
    assert!(!kept.to_string().contains(packed["op"].as_str().unwrap_or("no op")), "{kept}");
    let listed = s.jonas.json(&["quarantine", "list"]);
    assert_eq!(listed, Value::Array(Vec::new()), "nothing is held any more");
    same_everywhere(s);
    s.tell("Now Jonas may hand some of them on, with their brood and its ancestry.");
}
