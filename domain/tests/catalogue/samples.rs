//! One op of each kind with every field it can have, and what is known of the envelope.

use serde_json::{Value, json};

/// An id for the n-th thing.
pub fn id(n: u32) -> String {
    format!("0190a1b2-0000-7000-8000-0000{n:08x}")
}

/// The op of a body.
pub fn op(body: &Value) -> Value {
    json!({
        "id": id(1),
        "device": id(2),
        "clock": "2026-03-01T09:30:00.123Z/0004",
        "at": "2026-03-01T09:28:00Z",
        "body": body,
    })
}

fn rows() -> Value {
    json!([{"node": id(20), "sex": "male", "n": 2, "about": true}, {"node": "unassigned", "sex": "any", "n": 0}])
}

fn packed() -> Value {
    json!([{"stock": id(5), "node": "unassigned", "sex": "unsexed", "n": 6}])
}

fn parents() -> Value {
    json!({"of": [{"stock": id(5), "node": id(20), "n": 2, "weight": 250}], "draw": "one"})
}

fn founders() -> Value {
    json!({"node": id(20), "origin": "wild", "related": "siblings", "locality": "a brook", "collected": "2019-05"})
}

fn name() -> Value {
    json!({"species": "a fish", "form": "blue", "trade": "blue", "collection": "X1", "line": "north",
        "determined_by": "me", "sure": false})
}

/// A name with a code, as an edit.
fn renamed() -> Value {
    let mut edit = name();
    edit["code"] = json!("A2");
    edit
}

fn side() -> Value {
    json!({"of": [{"node": id(22), "n": 2, "weight": 250}, {"node": id(23), "n": 1}], "draw": "many"})
}

/// A node of each kind, one of them from another server.
fn ancestry() -> Value {
    json!([
        {"node": id(21), "is": {"brood": {
            "code": "A1", "species": "a fish", "form": "blue", "trade": "blue", "collection": "X1", "line": "north",
            "sure": true, "month": "2026-01", "young": 40, "cross": true, "sires": side(), "dams": side(),
        }}},
        {"node": id(22), "is": {"breeders": {"of": id(20), "sex": "male", "n": 2}}},
        {"node": id(23), "is": {"breeders": {"of": "unassigned", "sex": "female", "n": 1}}},
        {"node": id(20), "foreign": {"issuer": "https://fish.example", "id": id(40)}, "is": {"founders": {
            "species": "a fish", "form": "blue", "origin": "bought", "related": "not_known", "year": "2019", "unseen": true,
        }}},
    ])
}

fn rule() -> Value {
    json!({
        "min_days": 30, "observe_every_days": 7, "restart_on": ["sign", "unexplained_loss"],
        "treatment": "restart_at_end", "shared_water": "restart", "fry_days": 60, "fry_loss_percent": 20,
        "unopened_bag_returns": "quarantine", "late_after_hours": 72, "named_loss_percent": 20, "water_days": 7,
        "clear_role": "health_steward",
    })
}

fn waivers() -> Value {
    let (at, why) = ("2026-02-01T00:00:00Z", "holiday");
    json!([
        {"blocker": "recorded-late", "entry": id(9), "why": why},
        {"blocker": "observation-gap", "stock": id(5), "until": at, "why": why},
    ])
}

/// Bodies of every kind, full.
pub fn full() -> Vec<Value> {
    let (at, tank, stock, system) = ("2026-02-01T00:00:00Z", id(4), id(5), id(3));
    let (called, species, form) = ("name", "a fish", "blue");
    vec![
        json!({"op": "water.system_set", "system": system, "name": called, "gross_ml": 9, "net_ml": 8, "sump_ml": 1,
            "pipes_ml": 0, "displacement_ml": 1}),
        json!({"op": "tank.added", "tank": tank, "name": called, "stand": "A", "shelf": "2", "place": "3", "volume_ml": 9,
            "displacement_ml": 1}),
        json!({"op": "tank.described", "tank": tank, "name": called, "stand": "A", "shelf": "2", "place": "3",
            "volume_ml": 9, "displacement_ml": 1}),
        json!({"op": "tank.plumbed", "tank": tank, "system": system}),
        json!({"op": "tank.hung", "tank": tank, "within": id(6)}),
        json!({"op": "tank.emptied", "tank": tank, "system": system, "how": "dried"}),
        json!({"op": "water.system_joined", "system": system, "with": id(10)}),
        json!({"op": "treatment.began", "treatment": id(11), "system": system, "tank": tank, "with": "medicine", "to_end": "2026-03-09T18:00:00Z",
            "what": "by its label", "by": "the veterinarian"}),
        json!({"op": "treatment.ended", "treatment": id(11)}),
        json!({"op": "stock.established", "stock": stock, "name": called, "keeping": "colony", "species": species,
            "form": form, "since": at, "founders": founders(), "rows": rows(), "tank": tank}),
        json!({"op": "stock.came_in", "stock": stock, "from": "shop", "source": "a shop", "name": called,
            "keeping": "pair", "species": species, "form": form, "founders": founders(), "rows": rows(), "tank": tank}),
        json!({"op": "stock.described", "stock": stock, "name": called, "keeping": "trio", "species": species,
            "form": form, "note": "quiet", "virgin": true}),
        json!({"op": "stock.moved", "stock": stock, "from": tank, "to": id(6), "companion": true}),
        json!({"op": "stock.split", "stock": stock, "new": id(7), "rows": rows(), "tank": tank, "name": called}),
        json!({"op": "stock.merged", "stock": stock, "into": id(7), "rows": rows()}),
        json!({"op": "stock.counted", "stock": stock, "rows": rows(), "all": true}),
        json!({"op": "stock.sexed", "stock": stock,
            "rows": [{"node": "unassigned", "from": "unsexed", "to": "female", "n": 3}]}),
        json!({"op": "stock.lost", "stock": stock, "rows": rows(), "cause": "culled", "reason": "bent",
            "incident": id(9)}),
        json!({"op": "stock.left", "stock": stock, "rows": rows(), "to": "person", "price_minor": 250,
            "currency": "EUR"}),
        json!({"op": "food.given", "tanks": [tank], "stocks": [stock], "food": "flakes", "amount": "a pinch"}),
        json!({"op": "water.read", "system": system, "tank": tank,
            "values": [{"what": "ph", "typed": "7.2", "unit": "pH", "milli": 7200}]}),
        json!({"op": "history.decided", "entry": id(30), "kind": "quarantine.cleared", "stocks": [id(5)], "said": "{}"}),
        json!({"op": "history.taken_in", "server": "https://old.example", "epoch": id(31), "head": 40, "claims": 30,
            "decisions": 10, "stocks": [id(5)]}),
        json!({"op": "history.told", "entry": id(30), "brood": id(20), "what": "renamed", "why": "it is another",
            "nodes": ancestry()}),
        json!({"op": "history.sent", "entry": id(30), "parcel": id(8), "rows": packed(), "ancestry": ancestry()}),
        json!({"op": "history.matched", "entry": id(30), "parcel": id(8), "stock": id(5), "sent": rows(),
            "ancestry": ancestry(), "told_apart": rows()}),
        json!({"op": "water.logged", "system": system, "tank": tank, "over_s": 3600,
            "values": [{"what": "temperature", "n": 60, "least": 24_900, "mean": 25_320, "most": 26_100}]}),
        json!({"op": "sign.seen", "stock": stock, "tank": tank, "sign": "white spots", "last_seen": at}),
        json!({"op": "look.done", "tanks": [tank], "remark": "all well"}),
        json!({"op": "incident.seen", "system": system, "tank": tank, "what": "heater", "remark": "it was off"}),
        json!({"op": "job.done", "system": system, "tank": tank, "job": "water change", "volume_ml": 5000,
            "percent": 30}),
        json!({"op": "note.written", "stock": stock, "tank": tank, "text": "they dance"}),
        json!({"op": "op.withdrawn", "entry": id(9), "why": "wrong tank"}),
        json!({"op": "op.adopted", "entries": [id(9)], "from": id(4)}),
        json!({"op": "op.redacted", "entry": id(9), "fields": ["text"]}),
        json!({"op": "young.found", "brood": id(21), "spawning": id(22), "code": "A1",
            "name": name(),
            "window": {"from": at, "to": at}, "sires": parents(), "dams": parents(), "stock": stock, "rows": rows(),
            "tank": tank}),
        json!({"op": "pair.set_up", "spawning": id(22), "sires": parents(), "dams": parents(), "tank": tank}),
        json!({"op": "spawn.seen", "spawning": id(22), "sires": parents(), "dams": parents(), "tank": tank}),
        json!({"op": "drop.seen", "spawning": id(22), "sires": parents(), "dams": parents(), "tank": tank}),
        json!({"op": "eggs.collected", "spawning": id(22), "brood": id(21), "new": {"code": "A1",
                "name": {"species": species}, "sires": parents(), "dams": parents()},
            "window": {"from": at, "to": at}, "stock": stock, "name": called, "species": species,
            "form": form, "n": 40, "about": true, "tank": tank}),
        json!({"op": "eggs.checked", "spawning": id(22), "laid": 40, "fungused": 3}),
        json!({"op": "eggs.hatched", "spawning": id(22), "stock": stock, "rows": [{"node": id(21), "n": 30}]}),
        json!({"op": "young.swam", "spawning": id(22)}),
        json!({"op": "spawning.failed", "spawning": id(22), "why": "eaten"}),
        json!({"op": "brood.corrected", "brood": id(21), "sires": parents(), "dams": parents(), "why": "he was ill"}),
        json!({"op": "brood.renamed", "brood": id(21), "name": renamed(), "why": "looked at again"}),
        json!({"op": "brood.told", "brood": id(21), "what": "corrected", "why": "he was ill", "nodes": ancestry(),
            "from": id(9), "head": 42}),
        json!({"op": "parcel.packed", "parcel": id(8), "to": "mira", "rows": packed()}),
        json!({"op": "parcel.handed", "parcel": id(8)}),
        json!({"op": "parcel.arrived", "parcel": id(8), "stock": stock, "name": called, "species": species,
            "form": form, "tank": tank, "alive": rows(), "dead": rows(), "ancestry": ancestry()}),
        json!({"op": "parcel.sent", "parcel": id(8), "to": id(30), "rows": packed(), "ancestry": ancestry(),
            "relies": [id(9)]}),
        json!({"op": "parcel.matched", "parcel": id(8), "stock": stock, "sent": rows(), "ancestry": ancestry(),
            "told_apart": rows(), "relies": [id(9)]}),
        json!({"op": "parcel.received", "parcel": id(8), "at": at, "alive": rows(), "dead": rows()}),
        json!({"op": "parcel.settled", "parcel": id(8), "outcome": "lost",
            "rows": [{"node": id(20), "sex": "male", "n": -2}], "why": "never came", "officer": id(33),
            "relies": [id(9)]}),
        json!({"op": "parcel.agreed", "parcel": id(8), "stocks": [stock], "to": id(30), "login": "mira",
            "why": "the house is sold", "steward": id(33), "relies": [id(9)]}),
        json!({"op": "rule.adopted", "club": id(31), "version": 2, "from": at, "rule": rule(), "relies": [id(9)]}),
        json!({"op": "home_club.set", "club": id(31), "from": at, "relies": [id(9)]}),
        json!({"op": "room_rule.set", "rule": rule()}),
        json!({"op": "quarantine.restarted", "stock": stock, "from": at, "why": "nobody looked"}),
        json!({"op": "quarantine.waived", "unit": id(32), "club": id(31), "steward": id(33), "waivers": waivers(),
            "relies": [id(9)]}),
        json!({"op": "quarantine.recalled", "sign_off": id(9), "entries": [id(8)]}),
        json!({"op": "parcel.recalled", "parcel": id(35)}),
        json!({"op": "loss.judged", "entry": id(9), "club": id(31), "steward": id(33), "why": "too many",
            "relies": [id(9)]}),
        json!({"op": "quarantine.cleared", "unit": id(32), "members": [stock], "club": id(31),
            "steward_club": id(34), "rules": [{"club": id(31), "version": 2}], "held": 31, "start": at, "steward": id(33),
            "seen": "visit", "remark": "fine fish", "waivers": waivers(), "relies": [id(9)]}),
    ]
}

/// The path and value of everything inside a body that is no object and no list, its kind aside.
pub fn leaves(body: &Value) -> Vec<(String, Value)> {
    let mut all = Vec::new();
    walk("", body, &mut |path, value| {
        if !value.is_object() && !value.is_array() && path != "/op" {
            all.push((path.to_owned(), value.clone()));
        }
    });
    all
}

/// The paths of all objects inside a body, itself among them.
pub fn objects(body: &Value) -> Vec<String> {
    let mut all = Vec::new();
    walk("", body, &mut |path, value| {
        if value.is_object() {
            all.push(path.to_owned());
        }
    });
    all
}

fn walk(path: &str, value: &Value, see: &mut dyn FnMut(&str, &Value)) {
    see(path, value);
    match value {
        Value::Array(items) => {
            items.iter().enumerate().for_each(|(i, v)| walk(&format!("{path}/{i}"), v, see))
        }
        Value::Object(fields) => fields.iter().for_each(|(name, v)| walk(&format!("{path}/{name}"), v, see)),
        _ => {}
    }
}
