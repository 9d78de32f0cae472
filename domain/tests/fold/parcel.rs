//! The reference for parcels: one room's side of each.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use crate::plain::maker;
use crate::reference::{Touch, findings, written};

/// How many fish some lists of rows of an op have.
fn fish(body: &Value, lists: &[&str]) -> i64 {
    let rows = lists.iter().filter_map(|list| body[*list].as_array()).flatten();
    rows.map(|row| row["n"].as_i64().expect("a number")).sum()
}

fn part(body: &Value, name: &str) -> Value {
    body.get(name).cloned().unwrap_or(json!([]))
}

fn settlement(t: &Touch<'_>) -> Value {
    let b = t.told.body();
    json!({"op": t.told.field("id"), "at": t.at, "outcome": b["outcome"], "rows": b["rows"], "why": b["why"]})
}

/// The state of a parcel.
pub fn state(touches: &[Touch<'_>], live: &[&Touch<'_>]) -> Value {
    let of = |kind: &'static str| live.iter().filter(move |t| t.told.kind() == kind);
    // Told of by this server, or by the one before.
    let either = |a: &'static str, b: &'static str| {
        live.iter().filter(move |t| t.told.kind() == a || t.told.kind() == b)
    };
    let told_apart = || either("parcel.matched", "history.matched");
    let stamp = |t: &&Touch<'_>| json!([t.told.field("id"), t.at]);
    let id = |t: &Touch<'_>| t.told.field("id").to_owned();
    let packed = maker(live);
    // The first sending and the first arrival count; of what the other side said, the last.
    let (sent, arrived) = (either("parcel.sent", "history.sent").next(), of("parcel.arrived").next());
    let (matched, received) = (told_apart().next_back(), of("parcel.received").next_back());
    let (settled, agreed) = (of("parcel.settled").next_back(), of("parcel.agreed").next_back());
    let mut found = findings(touches);
    found.extend(of("parcel.arrived").skip(1).map(|t| ("made-twice", id(t))));
    found.extend(of("parcel.recalled").map(|t| ("received-from-recalled", id(t))));

    // The giver's room vouches for the ancestry; without its word the receiver's copy is all there is.
    let vouched = live.iter().rfind(|t| {
        let kind = t.told.kind();
        kind == "parcel.matched" || kind == "history.matched" || sent.is_some_and(|sent| id(sent) == id(t))
    });
    let claimed = arrived.map_or(json!([]), |t| part(t.told.body(), "ancestry"));
    let ancestry = vouched.map_or(claimed.clone(), |t| t.told.body()["ancestry"].clone());
    if let Some(arrived) = arrived {
        let vouched_for = |copy: &Value| ancestry.as_array().expect("a list").contains(copy);
        if vouched.is_none() {
            found.push(("unmatched", id(arrived)));
        } else if !claimed.as_array().expect("a list").iter().all(vouched_for) {
            found.push(("disputed", id(arrived)));
        }
        let came = fish(arrived.told.body(), &["alive", "dead"]);
        if matched.is_some_and(|t| fish(t.told.body(), &["sent"]) != came) {
            found.push(("numbers-differ", id(arrived)));
        }
    }
    // What left is what the server counted out, whatever was packed.
    let rows = sent.or(packed.as_ref()).map_or(json!([]), |t| t.told.body()["rows"].clone());
    if let (Some(sent), Some(received), None) = (sent, received, settled)
        && fish(received.told.body(), &["alive", "dead"]) != fish(&json!({"rows": rows}), &["rows"])
    {
        found.push(("numbers-differ", id(sent)));
    }

    let mut state = json!({
        "packed": packed.map(id),
        "to": packed.and_then(|t| t.told.body().get("to")),
        "rows": rows,
        "handed": of("parcel.handed").next().map(stamp),
        "sent": sent.map(|t| id(t)),
        "to_account": sent.and_then(|t| t.told.body().get("to")),
        "arrived": arrived.map(stamp),
        "stock": arrived.map(|t| &t.told.body()["stock"]),
        "alive": arrived.map_or(json!([]), |t| part(t.told.body(), "alive")),
        "dead": arrived.map_or(json!([]), |t| part(t.told.body(), "dead")),
        "ancestry": ancestry,
        "findings": written(found),
    });
    let again: Vec<Value> = of("parcel.arrived")
        .skip(1)
        .map(|t| {
            let b = t.told.body();
            let (alive, dead) = (part(b, "alive"), part(b, "dead"));
            json!({"op": id(t), "at": t.at, "stock": b["stock"], "alive": alive, "dead": dead})
        })
        .collect();
    let apart =
        told_apart().flat_map(|t| part(t.told.body(), "told_apart").as_array().cloned().unwrap_or_default());
    let apart: Vec<Value> = apart.collect();
    let many = of("parcel.settled").count();
    let earlier: Vec<Value> =
        of("parcel.settled").take(many.saturating_sub(1)).map(|t| settlement(t)).collect();
    let more = [
        ("told_apart", (!apart.is_empty()).then(|| json!(apart))),
        ("settled_before", (!earlier.is_empty()).then(|| json!(earlier))),
        ("again", (!again.is_empty()).then(|| json!(again))),
        ("elsewhere", live.iter().any(|t| t.told.kind().starts_with("history.")).then_some(json!(true))),
        ("matched", matched.map(|t| t.told.body()["sent"].clone())),
        (
            "received",
            received.map(|t| {
                let b = t.told.body();
                json!({"at": b["at"], "alive": b["alive"], "dead": part(b, "dead")})
            }),
        ),
        ("settled", settled.map(|t| settlement(t))),
        (
            "agreed",
            agreed.map(|t| {
                let b = t.told.body();
                let stocks: BTreeSet<&str> =
                    b["stocks"].as_array().expect("a list").iter().filter_map(Value::as_str).collect();
                json!({"stocks": stocks, "login": b["login"]})
            }),
        ),
    ];
    for (name, value) in more {
        if let Some(value) = value {
            state[name] = value;
        }
    }
    state
}
