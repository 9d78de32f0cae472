//! The reference for broods, and for nodes that are known here only by being told of.

use serde_json::{Value, json};

use crate::plain::{maker, widest};
use crate::reference::{Touch, field, findings, written};

const OF_A_NAME: [&str; 7] = ["species", "form", "trade", "collection", "line", "determined_by", "sure"];

/// What the op that made the brood says of it: eggs that begin one say it in a part of their own.
fn begun<'a>(t: &Touch<'a>) -> Option<&'a Value> {
    let body = t.told.body();
    t.made.then(|| body.get("new").unwrap_or(body))
}

/// The state of a brood.
pub fn state(touches: &[Touch<'_>], live: &[&Touch<'_>], node: &str) -> Value {
    let made = maker(live);
    let is = |t: &&&Touch<'_>, kind: &str| t.told.kind() == kind;
    let edit = |name: &'static str| {
        field(live.iter().map(move |t| {
            let said = match t.told.kind() {
                "brood.renamed" => t.told.body()["name"].get(name),
                _ if name == "code" => begun(t).map(|own| &own["code"]),
                _ => begun(t).and_then(|own| own["name"].get(name)),
            };
            (t.told, said)
        }))
    };
    let mut name = json!({});
    for part in OF_A_NAME {
        let value = edit(part);
        if !value.is_null() {
            name[part] = value;
        }
    }
    // A correction says nothing of the side that it leaves out.
    let side = |name: &'static str, but: Option<&str>| {
        field(live.iter().filter(|t| Some(t.told.field("id")) != but).map(move |t| {
            let said = match t.told.kind() {
                "brood.corrected" => t.told.body().get(name),
                _ => begun(t).and_then(|own| own.get(name)),
            };
            (t.told, said)
        }))
    };
    let latest = live.iter().filter(|t| is(t, "brood.corrected")).max_by_key(|t| t.told.edit());
    let before = latest.filter(|_| made.is_some()).map(|t| {
        let without = Some(t.told.field("id"));
        json!([side("sires", without), side("dams", without)])
    });
    let young = live.iter().map(|t| {
        let body = t.told.body();
        match t.told.kind() {
            "young.found" => {
                body["rows"].as_array().expect("rows").iter().filter_map(|r| r["n"].as_i64()).sum()
            }
            "eggs.collected" => body["n"].as_i64().expect("a number"),
            _ => 0,
        }
    });
    let telling: Vec<(&&Touch<'_>, &Value)> = live
        .iter()
        .filter(|t| is(t, "brood.told") || is(t, "history.told"))
        .filter_map(|t| {
            let nodes = t.told.body()["nodes"].as_array()?;
            Some((t, nodes.iter().find(|told| told["node"] == node)?))
        })
        .collect();
    // The word that knew most of the home's records counts; of these what was said last, whenever that is said to
    // have been.
    let head = |t: &Touch<'_>| t.told.body()["head"].as_u64().unwrap_or(0);
    let latest_word = telling.iter().max_by_key(|(t, _)| (head(t), t.told.edit()));
    let mut found = findings(touches);
    let about = |t: &Touch<'_>| t.told.body()["brood"] == node;
    // only while this room tells a brood of its own under that id
    let doubted = telling
        .iter()
        .filter(|_| made.is_some())
        .filter(|(t, _)| t.told.kind() == "brood.told" && about(t) && t.told.body()["what"] == "disputed");
    found.extend(doubted.map(|(t, _)| ("disputed", t.told.field("id").to_owned())));
    let changes = live.iter().filter_map(|t| {
        let body = t.told.body();
        let what = match t.told.kind() {
            "brood.corrected" => json!("corrected"),
            "brood.renamed" => json!("renamed"),
            "brood.told" | "history.told" if about(t) => body["what"].clone(),
            _ => return None,
        };
        Some(json!({"at": t.at, "op": t.told.field("id"), "what": what, "why": body.get("why")}))
    });
    json!({
        "made": made.map(|t| t.told.field("id")),
        "found": made.map(|t| t.at.clone()),
        "code": edit("code"),
        "name": name,
        "window": widest(live),
        "sires": side("sires", None),
        "dams": side("dams", None),
        "stock": made.map(|t| &t.told.body()["stock"]),
        "young": young.sum::<i64>(),
        "changes": changes.collect::<Vec<_>>(),
        "before": before,
        "told": latest_word.map(|(_, told)| told),
        "told_head": latest_word.map(|(t, _)| head(t)),
        "findings": written(found),
    })
}
