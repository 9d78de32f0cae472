//! The reference for which fish came to which rows of a stock: read off the rows before and after each op.

use serde_json::{Value, json};

use crate::reference::Touch;
use crate::stock::{Rows, key, n};

/// The fish that came by one op, in the order in which it names them. `before` are the rows before it.
pub fn came(t: &Touch<'_>, stock: &str, at: &str, before: &Rows) -> Vec<Value> {
    let body = t.told.body();
    let rows = |name: &str| body[name].as_array().cloned().unwrap_or_default();
    let whole = |name: &str| -> Vec<(Value, Value, i64)> {
        rows(name).iter().map(|row| (row["node"].clone(), row["sex"].clone(), n(row))).collect()
    };
    let kind = t.told.kind();
    // who was in another stock of the room before
    let from = match kind {
        "stock.split" | "stock.merged" => Some(&body["stock"]),
        _ => None,
    };
    let came: Vec<(Value, Value, i64)> = match kind {
        "parcel.arrived" if t.made => whole("alive"),
        // eggs are no fish yet
        "eggs.collected" => Vec::new(),
        _ if t.made => whole("rows"),
        "stock.merged" if body["into"] == stock && body["stock"] != stock => whole("rows"),
        "parcel.matched" => whole("told_apart"),
        "stock.counted" if !t.early() => {
            // More than were there; where the records had less than none, nothing was there.
            let mut seen: Vec<(String, String)> = Vec::new();
            let counted = rows("rows");
            let mut more = Vec::new();
            for row in &counted {
                let of = key(row, "sex");
                if seen.contains(&of) {
                    continue;
                }
                // a row that is named twice is what it is named last
                let last = counted.iter().rfind(|r| key(r, "sex") == of).map_or(0, n);
                more.push((
                    row["node"].clone(),
                    row["sex"].clone(),
                    last - before.get(&of).copied().unwrap_or(0).max(0),
                ));
                seen.push(of);
            }
            more
        }
        "stock.sexed" if !t.early() => {
            let rows = rows("rows");
            let turned = rows.iter().filter(|row| row["from"] != row["to"]);
            turned.map(|row| (row["node"].clone(), row["to"].clone(), n(row))).collect()
        }
        "eggs.hatched" if !t.early() => {
            rows("rows").iter().map(|row| (row["node"].clone(), json!("unsexed"), n(row))).collect()
        }
        _ => Vec::new(),
    };
    let unknown_before = |node: &Value, sex: &Value| {
        let rows = body["rows"].as_array().into_iter().flatten();
        let mut this =
            rows.filter(|row| row["node"] == *node && row["to"] == *sex && row["from"] != row["to"]);
        this.all(|row| row["from"] == "unsexed" || row["from"] == "any")
    };
    came.into_iter()
        .filter(|(_, sex, n)| *n > 0 && *sex != json!("eggs"))
        .map(|(node, sex, n)| {
            let mut one = json!({"at": at, "op": t.told.field("id"), "node": node, "sex": sex, "n": n});
            if kind == "stock.sexed" && unknown_before(&node, &sex) {
                one["sexed"] = json!(true);
            }
            if let Some(from) = from {
                one["from"] = from.clone();
            }
            one
        })
        .collect()
}
