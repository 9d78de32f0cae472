//! The reference for stocks: numbers step by step, then the stays read off the steps.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};

use crate::grew;
use crate::reference::{Standing, Touch, field, findings, written};

/// (node, sex).
pub type Key = (String, String);
/// The rows of a stock.
pub type Rows = BTreeMap<Key, i64>;

/// Which row.
pub fn key(row: &Value, sex: &str) -> Key {
    let text = |name: &str| row[name].as_str().expect("a text").to_owned();
    (text("node"), text(sex))
}

/// How many.
pub fn n(row: &Value) -> i64 {
    row["n"].as_i64().expect("a number")
}

fn list<'a>(body: &'a Value, name: &str) -> &'a [Value] {
    body[name].as_array().map(Vec::as_slice).unwrap_or_default()
}

fn total(rows: &Rows) -> i64 {
    rows.values().sum()
}

/// A tank's id or null (the bag); none: not known yet.
type Place = Option<Value>;

/// How things were after an op.
struct Step {
    at: String,
    place: Place,
    swims: bool,
    /// The stay ends here whatever follows.
    cut: bool,
    /// Which op it was.
    by: String,
    /// Whether the next stay is that of test companions, where this op says so.
    companion: Option<bool>,
}

/// The state of a stock.
pub fn state(touches: &[Touch<'_>], stock: &str) -> Value {
    let live: Vec<&Touch<'_>> = touches.iter().filter(|t| t.standing == Standing::Live).collect();
    let maker = live.iter().find(|t| t.made);
    let mut found = findings(touches);
    let mut rows = Rows::new();
    let mut about: BTreeSet<Key> = BTreeSet::new();
    let mut place: Place = None;
    let mut steps: Vec<Step> = Vec::new();
    let mut doubtful: Vec<Value> = Vec::new();
    let mut turns: Vec<Value> = Vec::new();
    let mut joined: Vec<Value> = Vec::new();
    let mut grew: Vec<Value> = Vec::new();
    let mut sexed: BTreeSet<Key> = BTreeSet::new();
    let [mut taker, mut astray, mut merged] = [const { None::<String> }; 3];
    for t in &live {
        let body = t.told.body();
        let id = t.told.field("id").to_owned();
        let at = maker.map_or(t.at.clone(), |m| m.at.clone().max(t.at.clone()));
        let mut cut = false;
        let mut companion = None;
        let before = total(&rows);
        grew.extend(grew::came(t, stock, &at, &rows));
        let takes = |field: &'static str, sign: i64| Some((field, sign));
        let change = match t.told.kind() {
            _ if t.made => {
                place = Some(body.get("tank").cloned().unwrap_or(Value::Null));
                match t.told.kind() {
                    "parcel.arrived" => takes("alive", 1),
                    "eggs.collected" => takes("eggs", 1),
                    _ => takes("rows", 1),
                }
            }
            "stock.merged" if body["stock"] == body["into"] => None,
            "stock.merged" if body["into"] == stock => {
                joined.push(json!([at, body["stock"]]));
                takes("rows", 1)
            }
            "stock.split" if body["new"] == body["stock"] => None,
            "stock.lost" | "stock.left" | "stock.split" | "stock.merged" | "parcel.sent" | "history.sent" => {
                taker = Some(id.clone());
                if t.told.kind() == "stock.merged" {
                    merged = Some(id.clone());
                }
                takes("rows", -1)
            }
            "stock.counted" if !t.early() => {
                count(&mut rows, list(body, "rows"), body["all"] == true);
                if body["all"] == true {
                    about.clear();
                }
                for row in list(body, "rows") {
                    about.remove(&key(row, "sex"));
                }
                about.extend(list(body, "rows").iter().filter(|r| r["about"] == true).map(|r| key(r, "sex")));
                merged = None;
                None
            }
            "stock.sexed" if !t.early() => {
                for row in list(body, "rows") {
                    *rows.entry(key(row, "from")).or_default() -= n(row);
                    *rows.entry(key(row, "to")).or_default() += n(row);
                }
                None
            }
            "parcel.matched" | "history.matched" => {
                for row in list(body, "told_apart") {
                    *rows.entry(("unassigned".into(), key(row, "sex").1)).or_default() -= n(row);
                    *rows.entry(key(row, "sex")).or_default() += n(row);
                }
                None
            }
            "eggs.hatched" if !t.early() => {
                for row in list(body, "rows") {
                    let node = row["node"].as_str().expect("a node").to_owned();
                    *rows.entry((node.clone(), "eggs".into())).or_default() -= n(row);
                    *rows.entry((node, "unsexed".into())).or_default() += n(row);
                }
                None
            }
            "stock.moved" => {
                let agreed = place.as_ref() == Some(&body["from"]);
                if !agreed && let Some(m) = maker {
                    let last = ended(&steps, &body["from"]);
                    let from = last.unwrap_or_else(|| m.at.clone()).min(at.clone());
                    doubtful.push(
                        json!({"tank": body["from"], "from": from, "until": at, "doubtful": true, "by": id}),
                    );
                }
                astray = (!agreed).then(|| id.clone());
                cut = !agreed;
                if !agreed || body["from"] != body["to"] {
                    companion = Some(body["companion"] == true);
                }
                place = Some(body["to"].clone());
                None
            }
            _ => None,
        };
        if let Some((field, sign)) = change {
            let eggs =
                [json!({"node": body["brood"], "sex": "eggs", "n": body["n"], "about": body["about"]})];
            let given = if field == "eggs" { &eggs } else { list(body, field) };
            for row in given.iter().filter(|r| !t.told.kind().ends_with(".sent") || r["stock"] == stock) {
                *rows.entry(key(row, "sex")).or_default() += sign * n(row);
                if row["about"] == true {
                    about.insert(key(row, "sex"));
                }
            }
        }
        grew::gone(t, &at, &rows, &mut sexed, &mut grew);
        if let Some(kind) = turn(t, stock) {
            turns.push(json!({"at": at, "op": id, "change": total(&rows) - before, "kind": kind}));
        }
        steps.push(Step {
            at,
            swims: total(&rows) > 0 && place.is_some(),
            place: place.clone(),
            cut,
            by: id,
            companion,
        });
    }
    rows.retain(|_, n| *n != 0);
    about.retain(|key| rows.contains_key(key));
    let made = maker.map(|m| m.told.field("id").to_owned());
    let sum = total(&rows);
    if let Some(op) = taker.or(made.clone()) {
        if sum < 0 {
            found.push(("below-zero", op));
        } else if rows.iter().any(|(key, n)| key.1 != "any" && *n < 0) {
            found.push(("row-below-zero", op));
        }
    }
    found.extend(astray.map(|op| ("two-places", op)));
    found.extend(merged.filter(|_| sum > 0).map(|op| ("merge-left-some", op)));
    let said = |name: &'static str| {
        field(live.iter().map(move |t| {
            let b = t.told.body();
            let value = match (t.made, t.told.kind(), name) {
                (true, "young.found", "name") => b.get("code"),
                (true, "young.found", "species" | "form") => b["name"].get(name),
                (true, ..) => b.get(name),
                (false, "stock.described", _) => b.get(name),
                _ => None,
            };
            (t.told, value)
        }))
    };
    let mut state = json!({
        "made": made,
        "since": maker.map(|m| m.at.clone()),
        "came": maker.map(|m| came(m)),
        "name": said("name"),
        "keeping": said("keeping"),
        "species": said("species"),
        "form": said("form"),
        "note": said("note"),
        "founders": maker.and_then(|m| m.told.body().get("founders")),
        "numbers": in_order(rows.iter().map(|(k, n)| (k, json!({"node": k.0, "sex": k.1, "n": n})))),
        "about": in_order(about.iter().map(|k| (k, json!([k.0, k.1])))),
        "stays": stays(&steps, doubtful),
        "joined": joined,
        "turns": turns,
        "grew": grew,
        "findings": written(found),
    });
    if live.iter().any(|t| t.told.kind() == "history.taken_in") {
        state["taken_in"] = json!(true);
    }
    if !said("virgin").is_null() {
        state["virgin"] = said("virgin");
    }
    state
}

/// Why the number changed, if the op says anything of it.
fn turn(t: &Touch<'_>, stock: &str) -> Option<Value> {
    let b = t.told.body();
    Some(match t.told.kind() {
        _ if t.made => json!("made"),
        "stock.merged" if b["stock"] == b["into"] => return None,
        "stock.split" if b["stock"] == b["new"] => return None,
        "stock.merged" if b["into"] == stock => json!({"joined": b["stock"]}),
        "stock.merged" | "stock.split" | "parcel.sent" | "history.sent" => json!("went"),
        "stock.lost" => {
            let reason = b["reason"].as_str().is_some_and(|why| why.contains(|c: char| !c.is_whitespace()));
            json!({"lost": {"cause": b["cause"], "reason": reason}})
        }
        "stock.left" => json!("left"),
        "stock.counted" if !t.early() => json!("counted"),
        _ => return None,
    })
}

/// Unassigned before nodes; males, females, unsexed, eggs, any.
fn in_order<'a>(items: impl Iterator<Item = (&'a Key, Value)>) -> Value {
    let sexes = ["male", "female", "unsexed", "eggs", "any"];
    let rank = |key: &Key| (key.0 != "unassigned", key.0.clone(), sexes.iter().position(|s| *s == key.1));
    let mut items: Vec<_> = items.map(|(key, value)| (rank(key), value)).collect();
    items.sort_by(|a, b| a.0.cmp(&b.0));
    items.into_iter().map(|(_, value)| value).collect()
}

fn came(maker: &Touch<'_>) -> Value {
    let b = maker.told.body();
    match maker.told.kind() {
        "stock.established" => json!({"how": "established"}),
        "stock.came_in" => json!({"how": "in", "from": b["from"]}),
        "stock.split" => json!({"how": "split", "of": b["stock"]}),
        "young.found" | "eggs.collected" => json!({"how": "born", "brood": b["brood"]}),
        "parcel.arrived" => json!({"how": "parcel", "parcel": b["parcel"]}),
        kind => panic!("{kind} makes no stock"),
    }
}

/// Sets the rows it names; what it finds fewer first pays what is owed; with `all` the rest is none.
fn count(rows: &mut Rows, counted: &[Value], all: bool) {
    for row in counted {
        let key = key(row, "sex");
        let mut fewer = (rows.get(&key).copied().unwrap_or(0) - n(row)).max(0);
        rows.insert(key.clone(), n(row));
        let debts = [key.0.clone(), "unassigned".to_owned()].map(|node| (node, "any".to_owned()));
        for debt in debts.iter().filter(|_| key.1 != "any") {
            let owed = -rows.get(debt).copied().unwrap_or(0);
            let paid = fewer.min(owed.max(0));
            *rows.entry(debt.clone()).or_default() += paid;
            fewer -= paid;
        }
    }
    if all {
        rows.retain(|k, _| counted.iter().any(|row| key(row, "sex") == *k));
    }
}

/// Steps that are one stay.
struct Stretch {
    place: Value,
    from: String,
    until: Option<String>,
    by: String,
    companion: bool,
}

fn stretches(steps: &[Step]) -> Vec<Stretch> {
    let mut all: Vec<Stretch> = Vec::new();
    let (mut open, mut companion) = (false, false);
    for step in steps {
        companion = step.companion.unwrap_or(companion);
        let here = step.place.clone().unwrap_or(Value::Null);
        let goes_on = open && step.swims && !step.cut && all.last().is_some_and(|last| last.place == here);
        if goes_on {
            continue;
        }
        if open && let Some(last) = all.last_mut() {
            last.until = Some(step.at.clone());
        }
        open = step.swims;
        if open {
            let (from, by) = (step.at.clone(), step.by.clone());
            all.push(Stretch {
                place: here,
                from,
                until: None,
                by,
                companion: std::mem::take(&mut companion),
            });
        }
    }
    all
}

/// When the last stay in a place ended.
fn ended(steps: &[Step], place: &Value) -> Option<String> {
    stretches(steps).into_iter().filter(|s| s.place == *place).filter_map(|s| s.until).max()
}

fn stays(steps: &[Step], doubtful: Vec<Value>) -> Value {
    let sure = stretches(steps).into_iter().map(|s| {
        let mut stay = json!({"tank": s.place, "from": s.from, "until": s.until, "by": s.by});
        if s.companion {
            stay["companion"] = json!(true);
        }
        stay
    });
    let mut all: Vec<Value> = sure.chain(doubtful).collect();
    let text = |v: &Value| v.as_str().map(str::to_owned);
    all.sort_by_key(|s| {
        (text(&s["from"]), s["until"].is_null(), text(&s["until"]), s["doubtful"] == true, text(&s["tank"]))
    });
    Value::Array(all)
}
