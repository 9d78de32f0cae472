//! The reference for everything but stocks, broods and parcels: tanks, systems, treatments, spawnings, the room's facts.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use crate::reference::{Standing, Told, Touch, field, findings, written};
use crate::{brood, parcel};

/// The state of a thing of a kind.
pub fn state(kind: &str, id: &str, touches: &[Touch<'_>]) -> Value {
    let live: Vec<&Touch<'_>> = touches.iter().filter(|t| t.standing == Standing::Live).collect();
    match kind {
        "tank" => tank(touches, &live),
        "system" => system(touches, &live),
        "brood" => brood::state(touches, &live, id),
        "parcel" => parcel::state(touches, &live),
        "treatment" => treatment(touches, &live),
        "spawning" => spawning(touches, &live),
        "room" => room(&live),
        _ => panic!("a thing of kind {kind}"),
    }
}

fn edits<'a>(live: &'a [&Touch<'a>], name: &'a str) -> impl Iterator<Item = (&'a Told, Option<&'a Value>)> {
    live.iter().map(move |t| (t.told, t.told.body().get(name)))
}

/// The op that made it.
pub fn maker<'a>(live: &'a [&Touch<'a>]) -> Option<&'a Touch<'a>> {
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
    let hung = waters(live, "tank.hung", ("tank", "within"));
    with_lists(
        [("hung", hung), ("emptied", emptied(live))],
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
        }),
    )
}

/// From when to when a thing had whose water; its own if it is said to have itself.
fn waters(live: &[&Touch<'_>], kind: &str, (own, other): (&str, &str)) -> Vec<Value> {
    let mut all: Vec<Value> = Vec::new();
    for t in live.iter().filter(|t| t.told.kind() == kind) {
        let b = t.told.body();
        let with = if b[other] == b[own] { Value::Null } else { b[other].clone() };
        if all.last().is_some_and(|last| last["with"] == with) {
            continue;
        }
        if let Some(last) = all.last_mut() {
            last["until"] = json!(t.at);
        }
        all.push(json!({"with": with, "from": t.at, "until": null}));
    }
    all
}

fn emptied(live: &[&Touch<'_>]) -> Vec<Value> {
    let dry = live.iter().filter(|t| t.told.kind() == "tank.emptied");
    dry.map(|t| json!({"at": t.at, "op": t.told.field("id"), "how": t.told.body()["how"]})).collect()
}

/// A list that is empty is not written.
fn with_lists<const N: usize>(lists: [(&str, Vec<Value>); N], mut state: Value) -> Value {
    for (name, list) in lists.into_iter().filter(|(_, list)| !list.is_empty()) {
        state[name] = Value::Array(list);
    }
    state
}

/// The first end counts.
fn treatment(touches: &[Touch<'_>], live: &[&Touch<'_>]) -> Value {
    let began = maker(live);
    let told = |name: &str| began.and_then(|t| t.told.body().get(name)).cloned();
    let from = began.map(|t| t.at.clone());
    let ended = live.iter().find(|t| t.told.kind() == "treatment.ended");
    let until =
        ended.map(|t| json!([from.clone().unwrap_or_default().max(t.at.clone()), t.told.field("id")]));
    json!({
        "made": began.map(|t| t.told.field("id")),
        "system": told("system"),
        "tank": told("tank"),
        "with": told("with"),
        "what": told("what"),
        "by": told("by"),
        "from": from,
        "until": until,
        "findings": written(findings(touches)),
    })
}

fn system(touches: &[Touch<'_>], live: &[&Touch<'_>]) -> Value {
    let joined = waters(live, "water.system_joined", ("system", "with"));
    with_lists(
        [("joined", joined), ("emptied", emptied(live))],
        json!({
            "made": maker(live).map(|t| t.told.field("id")),
            "name": field(edits(live, "name")),
            "gross_ml": field(edits(live, "gross_ml")),
            "net_ml": field(edits(live, "net_ml")),
            "sump_ml": field(edits(live, "sump_ml")),
            "pipes_ml": field(edits(live, "pipes_ml")),
            "displacement_ml": field(edits(live, "displacement_ml")),
            "findings": written(findings(touches)),
        }),
    )
}

/// From the first beginning to the last end of all windows.
pub fn widest(live: &[&Touch<'_>]) -> Option<Value> {
    let windows: Vec<&Value> = live.iter().filter_map(|t| t.told.body().get("window")).collect();
    let of = |end: &'static str| windows.iter().map(move |w| w[end].as_str().expect("a time"));
    Some(json!({"from": of("from").min()?, "to": of("to").max()?}))
}

fn spawning(touches: &[Touch<'_>], live: &[&Touch<'_>]) -> Value {
    let sum = |b: &Value| -> i64 {
        b["rows"].as_array().expect("rows").iter().map(|row| row["n"].as_i64().expect("a number")).sum()
    };
    let step = |t: &&Touch<'_>| {
        let b = t.told.body();
        let mut step = match t.told.kind() {
            "pair.set_up" => json!({"step": "set_up"}),
            "spawn.seen" => json!({"step": "seen"}),
            "drop.seen" => json!({"step": "dropped"}),
            "eggs.collected" => json!({"step": "collected", "n": b["n"]}),
            "young.found" => json!({"step": "found", "n": sum(b)}),
            "eggs.checked" => json!({"step": "checked", "laid": b["laid"], "fungused": b["fungused"]}),
            "eggs.hatched" => json!({"step": "hatched", "n": sum(b)}),
            "young.swam" => json!({"step": "swam"}),
            "spawning.failed" => json!({"step": "failed", "why": b["why"]}),
            kind => panic!("{kind} is no step"),
        };
        step["at"] = json!(t.at);
        step["op"] = json!(t.told.field("id"));
        step
    };
    let told = |name: &'static str| {
        field(live.iter().map(move |t| {
            let b = t.told.body();
            // Where eggs and young are says nothing of where the parents were.
            let place = !["eggs.collected", "young.found"].contains(&t.told.kind());
            let own = b.get("new").unwrap_or(b);
            (t.told, own.get(name).filter(|_| name != "tank" || place))
        }))
    };
    let made: Vec<&&Touch<'_>> =
        live.iter().filter(|t| ["eggs.collected", "young.found"].contains(&t.told.kind())).collect();
    let broods: BTreeSet<&str> = made.iter().filter_map(|t| t.told.body()["brood"].as_str()).collect();
    let hatched = live.iter().filter(|t| t.told.kind() == "eggs.hatched");
    let stocks: BTreeSet<&str> =
        made.iter().copied().chain(hatched).filter_map(|t| t.told.body()["stock"].as_str()).collect();
    json!({
        "steps": live.iter().map(step).collect::<Vec<_>>(),
        "sires": told("sires"),
        "dams": told("dams"),
        "tank": told("tank"),
        "window": widest(live),
        "broods": broods,
        "stocks": stocks,
        "findings": written(findings(touches)),
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
    let own = of("room_rule.set").map(|t| json!({"from": t.at, "rule": t.told.body()["rule"]})).collect();
    let waived = live
        .iter()
        .filter(|t| ["quarantine.cleared", "quarantine.waived"].contains(&t.told.kind()))
        .flat_map(|t| t.told.body()["waivers"].as_array().cloned().unwrap_or_default());
    let judged: BTreeSet<String> =
        of("loss.judged").map(|t| t.told.body()["entry"].as_str().expect("an id").to_owned()).collect();
    let judged = judged.into_iter().map(Value::from).collect();
    let lists = [("own", own), ("waived", waived.collect()), ("judged", judged)];
    with_lists(lists, json!({"home": home, "rules": rules, "signed": signed}))
}
