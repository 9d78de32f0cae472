//! The reference for everything but stocks: tanks, systems, broods, parcels, the room's facts.

use serde_json::{Value, json};

use crate::reference::{Standing, Told, Touch, field, findings, written};

/// The state of a thing of a kind.
pub fn state(kind: &str, touches: &[Touch<'_>]) -> Value {
    let live: Vec<&Touch<'_>> = touches.iter().filter(|t| t.standing == Standing::Live).collect();
    match kind {
        "tank" => tank(touches, &live),
        "system" => system(touches, &live),
        "brood" => brood(touches, &live),
        "parcel" => parcel(touches, &live),
        "room" => room(&live),
        _ => panic!("a thing of kind {kind}"),
    }
}

fn edits<'a>(live: &'a [&Touch<'a>], name: &'a str) -> impl Iterator<Item = (&'a Told, Option<&'a Value>)> {
    live.iter().map(move |t| (t.told, t.told.body().get(name)))
}

fn maker<'a>(live: &'a [&Touch<'a>]) -> Option<&'a Touch<'a>> {
    live.iter().copied().find(|t| t.made)
}

fn tank(touches: &[Touch<'_>], live: &[&Touch<'_>]) -> Value {
    let mut plumbing: Vec<Value> = Vec::new();
    for t in live.iter().filter(|t| t.told.kind() == "tank.plumbed") {
        let system = &t.told.body()["system"];
        if plumbing.last().is_some_and(|last| last["system"] == *system) {
            continue;
        }
        if let Some(last) = plumbing.last_mut() {
            last["until"] = json!(t.at);
        }
        plumbing.push(json!({"system": system, "from": t.at, "until": null}));
    }
    json!({
        "made": maker(live).map(|t| t.told.field("id")),
        "since": maker(live).map(|t| t.at.clone()),
        "name": field(edits(live, "name")),
        "stand": field(edits(live, "stand")),
        "shelf": field(edits(live, "shelf")),
        "place": field(edits(live, "place")),
        "volume_ml": field(edits(live, "volume_ml")),
        "displacement_ml": field(edits(live, "displacement_ml")),
        "plumbing": plumbing,
        "findings": written(findings(touches)),
    })
}

fn system(touches: &[Touch<'_>], live: &[&Touch<'_>]) -> Value {
    json!({
        "made": maker(live).map(|t| t.told.field("id")),
        "name": field(edits(live, "name")),
        "gross_ml": field(edits(live, "gross_ml")),
        "net_ml": field(edits(live, "net_ml")),
        "sump_ml": field(edits(live, "sump_ml")),
        "pipes_ml": field(edits(live, "pipes_ml")),
        "displacement_ml": field(edits(live, "displacement_ml")),
        "findings": written(findings(touches)),
    })
}

fn brood(touches: &[Touch<'_>], live: &[&Touch<'_>]) -> Value {
    let made = maker(live);
    let told = |name: &str| made.and_then(|t| t.told.body().get(name)).cloned();
    json!({
        "made": made.map(|t| t.told.field("id")),
        "found": made.map(|t| t.at.clone()),
        "code": told("code"),
        "name": told("name").unwrap_or(json!({})),
        "window": told("window"),
        "sires": told("sires"),
        "dams": told("dams"),
        "stock": told("stock"),
        "findings": written(findings(touches)),
    })
}

fn parcel(touches: &[Touch<'_>], live: &[&Touch<'_>]) -> Value {
    let first = |kind: &str| live.iter().find(|t| t.told.kind() == kind);
    let stamp = |t: &&Touch<'_>| json!([t.told.field("id"), t.at]);
    let packed = maker(live);
    let (sent, arrived) = (first("parcel.sent"), first("parcel.arrived"));
    let told = |t: Option<&&Touch<'_>>, name: &str| t.and_then(|t| t.told.body().get(name)).cloned();
    let later = live
        .iter()
        .rfind(|t| [sent, arrived].into_iter().flatten().any(|o| o.told.place() == t.told.place()));
    let again = live.iter().filter(|t| t.told.kind() == "parcel.arrived").skip(1);
    let mut found = findings(touches);
    found.extend(again.map(|t| ("made-twice", t.told.field("id").to_owned())));
    json!({
        "packed": packed.map(|t| t.told.field("id")),
        "to": packed.and_then(|t| t.told.body().get("to")),
        "rows": packed.map_or(json!([]), |t| t.told.body()["rows"].clone()),
        "handed": first("parcel.handed").map(stamp),
        "sent": sent.map(|t| t.told.field("id")),
        "to_account": told(sent, "to"),
        "arrived": arrived.map(stamp),
        "alive": told(arrived, "alive").unwrap_or(json!([])),
        "dead": told(arrived, "dead").unwrap_or(json!([])),
        "ancestry": told(later, "ancestry").unwrap_or(json!([])),
        "stock": arrived.map(|t| &t.told.body()["stock"]),
        "findings": written(found),
    })
}

/// In the order of the decisions; homes by when they begin.
fn room(live: &[&Touch<'_>]) -> Value {
    let of = |kind: &'static str| live.iter().filter(move |t| t.told.kind() == kind);
    let begins =
        |t: &Touch<'_>| t.told.body()["from"].as_str().expect("a time").max(t.at.as_str()).to_owned();
    let mut home: Vec<(String, &Value)> =
        of("home_club.set").map(|t| (begins(t), &t.told.body()["club"])).collect();
    home.sort_by(|a, b| a.0.cmp(&b.0));
    let rules: Vec<Value> = of("rule.adopted")
        .map(|t| {
            let b = t.told.body();
            json!({"club": b["club"], "version": b["version"], "from": begins(t), "rule": b["rule"]})
        })
        .collect();
    let signed: Vec<Value> = of("quarantine.cleared")
        .map(|t| {
            let mut says = t.told.body().clone();
            says.as_object_mut().expect("an object").remove("op");
            json!({"op": t.told.field("id"), "at": t.at, "says": says})
        })
        .collect();
    json!({"home": home, "rules": rules, "signed": signed})
}
