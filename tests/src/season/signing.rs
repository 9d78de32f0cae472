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

/// Client and server, which compute it each for itself, say the same of the attic.
#[track_caller]
pub(super) fn same_everywhere(s: &Season) {
    let here = s.jonas.json(&["quarantine", "list"]);
    let desk = s.jonas.json(&["quarantine", "units"]);
    let there = desk["rooms"].as_array().into_iter().flatten().find(|room| room["name"] == "Attic");
    let there = there.map_or_else(|| serde_json::json!([]), |room| room["units"].clone());
    let told = |units: &Value| -> Vec<Value> {
        let keep = |unit: &Value| {
            let picked =
                ["unit", "state", "start", "due", "days", "days_done", "shared_water", "blockers", "runs"];
            let mut told: Vec<Value> = picked.iter().map(|name| unit[*name].clone()).collect();
            for member in unit["members"].as_array().into_iter().flatten() {
                told.extend(["stock", "cause", "since", "start"].iter().map(|name| member[*name].clone()));
            }
            Value::Array(told)
        };
        units.as_array().into_iter().flatten().map(keep).collect()
    };
    assert_eq!(told(&here), told(&there), "{here}\n{there}");
}

pub(super) fn a_sign(s: &mut Season) {
    s.looks(&[40, 46, 52]);
    s.day(54);
    s.jonas.done(&["sign", "seen", "white spots on one fish", "--stock", "Young cacatuoides"]);
    s.jonas.done(&["look", "done", "--all"]);
    s.jonas.done(&["sync"]);
    let shown = s.jonas.done(&["quarantine", "show", "Corydoras"]);
    assert!(shown.stdout.contains("Began again") && shown.stdout.contains("white spots"), "{shown}");
    same_everywhere(s);
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
    same_everywhere(s);
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

    s.jonas.done(&["sync"]);
    let packed = s.jonas.json(&["parcel", "pack", "--to", "marta", "Young cacatuoides=2"]);
    let parcel = packed["parcel"].as_str().unwrap_or_else(|| panic!("no parcel in {packed}")).to_owned();
    s.jonas.done(&["parcel", "hand", &parcel]);
    s.jonas.done(&["sync"]);
    s.marta.done(&["sync"]);
    s.marta.done(&["tank", "add", "Q9", "--volume", "40l"]);
    s.marta.done(&[
        "parcel",
        "arrive",
        &parcel,
        "--tank",
        "Q9",
        "--alive",
        "2",
        "--name",
        "Back from the attic",
    ]);
    s.marta.done(&["sync"]);
    s.tell(
        "Jonas gives two of them back to Marta. Hers are in quarantine again, in a tank that stands alone.",
    );
}
