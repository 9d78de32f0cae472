//! The days run, and begin again with a sign; who may not sign is refused; who may signs when the days are done.

use serde_json::Value;

use super::{Season, refused};
use crate::keeper::Keeper;

/// The one unit of the attic as somebody sees it, and its state.
pub(super) fn unit(steward: &Keeper) -> (String, String, Value) {
    let desk = steward.json(&["quarantine", "units"]);
    let rooms = desk["rooms"].as_array().unwrap_or_else(|| panic!("no rooms in {desk}"));
    let room =
        rooms.iter().find(|room| room["name"] == "Attic").unwrap_or_else(|| panic!("no attic in {desk}"));
    let unit = &room["units"][0];
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    (text(&unit["unit"]), text(&unit["state"]), unit.clone())
}

pub(super) fn a_sign(s: &mut Season) {
    s.looks(&[40, 46, 52]);
    s.day(54);
    s.jonas.done(&["sign", "seen", "white spots on one fish", "--stock", "Young cacatuoides"]);
    s.jonas.done(&["look", "done", "--all"]);
    s.jonas.done(&["sync"]);
    let shown = s.jonas.done(&["quarantine", "show", "Corydoras"]);
    assert!(shown.stdout.contains("Began again") && shown.stdout.contains("white spots"), "{shown}");
    s.tell("Day 54, the twentieth of the unit: white spots on one fish. The days of all in that water begin again.");
}

pub(super) fn too_early(s: &mut Season) {
    s.looks(&[60]);
    s.day(65);
    s.jonas.done(&["look", "done", "--all"]);
    s.jonas.done(&["sync"]);
    s.tablet.done(&["sync"]);
    let (id, state, unit) = unit(&s.odile);
    assert_eq!((state.as_str(), &unit["days_done"]), ("running", &Value::from(11)), "{unit}");
    refused(&s.odile.run(&["quarantine", "sign-off", &id, "--seen", "visit"]), "days");
    s.tell("Day 65: without the sign the 30 days were over. Odile may not sign yet, whatever she saw.");
}

pub(super) fn signed(s: &mut Season) {
    s.looks(&[71, 77, 83]);
    s.day(85);
    s.jonas.done(&["look", "done", "--all"]);
    s.jonas.done(&["sync"]);
    let (id, state, unit) = unit(&s.odile);
    assert_eq!((state.as_str(), &unit["days_done"]), ("due", &Value::from(31)), "{unit}");
    assert_eq!(unit["blockers"], Value::Array(Vec::new()), "{unit}");
    refused(&s.marta.run(&["quarantine", "sign-off", &id, "--seen", "pictures"]), "another steward");
    refused(&s.jonas.run(&["quarantine", "sign-off", &id, "--seen", "visit"]), "another steward");
    s.tell("Day 85: the days are done. Jonas keeps the fish and Marta gave them; both are stewards, and may not sign.");

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
}
