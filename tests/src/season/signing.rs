//! The days run; who may not sign is refused; who may signs when the days are done.

use serde_json::Value;

use super::{Season, refused};
use crate::keeper::Keeper;

/// The one unit that a steward sees, and its state.
fn unit(steward: &Keeper) -> (String, String, Value) {
    let desk = steward.json(&["quarantine", "units"]);
    let rooms = desk["rooms"].as_array().unwrap_or_else(|| panic!("no rooms in {desk}"));
    let room =
        rooms.iter().find(|room| room["name"] == "Attic").unwrap_or_else(|| panic!("no attic in {desk}"));
    let unit = &room["units"][0];
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    (text(&unit["unit"]), text(&unit["state"]), unit.clone())
}

pub(super) fn too_early(s: &mut Season) {
    s.day(17);
    s.jonas.done(&["look", "done", "Q1", "--remark", "all feeding"]);
    s.jonas.done(&["sync"]);
    let (id, state, unit) = unit(&s.odile);
    assert_eq!((state.as_str(), &unit["days_done"]), ("running", &Value::from(12)), "{unit}");
    refused(&s.odile.run(&["quarantine", "sign-off", &id, "--seen", "visit"]), "days");
    s.tell("Day 17: 12 of 30 days are done. Odile may not sign yet, whatever she saw.");
}

pub(super) fn signed(s: &mut Season) {
    s.day(36);
    s.jonas.done(&["look", "done", "Q1"]);
    s.jonas.done(&["sync"]);
    let (id, state, unit) = unit(&s.odile);
    assert_eq!((state.as_str(), &unit["days_done"]), ("due", &Value::from(31)), "{unit}");
    refused(&s.marta.run(&["quarantine", "sign-off", &id, "--seen", "pictures"]), "another steward");
    s.tell(
        "Day 36: the days are done. Marta is a steward too, but she gave the fish: another one has to sign.",
    );

    let signed = s.odile.done(&[
        "quarantine",
        "sign-off",
        &id,
        "--seen",
        "visit",
        "--remark",
        "all feeding, no marks",
    ]);
    let said = format!("{}{}", signed.stdout, signed.stderr);
    assert!(said.contains("Held 31 days"), "{said}");
    assert!(said.contains("Not a health certificate."), "{said}");
    s.tell("Odile stands at the tank and signs: held 31 days, cleared by a club steward. Not a health certificate.");

    s.jonas.done(&["sync"]);
    let packed = s.jonas.json(&["parcel", "pack", "--to", "odile", "Young cacatuoides=2"]);
    s.jonas.done(&["sync"]);
    let kept = s.jonas.done(&["sync", "refused", "--json"]).json();
    assert!(!kept.to_string().contains(packed["op"].as_str().unwrap_or("no op")), "{kept}");
    s.tell("Jonas syncs; now he may hand some of them on, with their brood and its ancestry.");
}
