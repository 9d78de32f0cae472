//! The reference for which fish came to which rows of a stock: every op as fish that go from row to row, one step after
//! the other.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use crate::reference::Touch;
use crate::stock::{Key, Rows, key, n};

/// So many go out of one row, if they were in one, and into another.
struct Step {
    out: Option<Key>,
    into: Key,
    n: i64,
    /// Those that were not there before; else all.
    fresh: Option<i64>,
}

/// The fish that came by one op, in the order in which it names them. `before` are the rows before it.
pub fn came(t: &Touch<'_>, stock: &str, at: &str, before: &Rows) -> Vec<Value> {
    let mut rows = before.clone();
    let mut came = Vec::new();
    for Step { out, into, n, fresh } in steps(t, stock, before) {
        let unknown = |sex: &str| sex == "unsexed" || sex == "any";
        if let Some(out) = &out {
            *rows.entry(out.clone()).or_default() -= n;
        }
        let alike = |key: &Key| key.0 == into.0 && (key.1 == into.1 || unknown(&key.1) && unknown(&into.1));
        let there: i64 = rows.iter().filter(|(key, n)| alike(key) && **n > 0).map(|(_, n)| n).sum();
        let had = there.min(rows.values().sum()).max(0);
        *rows.entry(into.clone()).or_default() += n;
        let fresh = fresh.unwrap_or(n);
        // eggs are no fish yet, and who was taken for what it is did not come
        if fresh <= 0 || into.1 == "eggs" || out.as_ref() == Some(&into) {
            continue;
        }
        let mut one = json!({"at": at, "op": t.told.field("id"), "node": into.0, "sex": into.1, "n": fresh, "had": had});
        if t.told.kind() == "stock.sexed" && out.is_some_and(|out| unknown(&out.1)) {
            one["sexed"] = json!(true);
        }
        // who was in another stock of the room before
        if ["stock.split", "stock.merged"].contains(&t.told.kind()) {
            one["from"] = t.told.body()["stock"].clone();
        }
        came.push(one);
    }
    came
}

/// Males and females of which there were some, and are none any more, in the order of the rows.
pub fn gone(t: &Touch<'_>, at: &str, rows: &Rows, sexed: &mut BTreeSet<Key>, grew: &mut Vec<Value>) {
    let all: i64 = rows.values().sum();
    let here = |key: &Key| all > 0 && rows.get(key).is_some_and(|n| *n > 0);
    let mut left: Vec<Key> = sexed.iter().filter(|key| !here(key)).cloned().collect();
    // unassigned first, males before females
    left.sort_by_key(|(node, sex)| (node != "unassigned", node.clone(), sex != "male"));
    for key in left {
        let (node, sex) = &key;
        grew.push(json!({"at": at, "op": t.told.field("id"), "node": node, "sex": sex, "n": 0, "had": 0}));
        sexed.remove(&key);
    }
    let told = rows.keys().filter(|key| key.1 == "male" || key.1 == "female");
    sexed.extend(told.filter(|key| here(key)).cloned());
}

fn steps(t: &Touch<'_>, stock: &str, before: &Rows) -> Vec<Step> {
    let body = t.told.body();
    let rows = |name: &str| body[name].as_array().cloned().unwrap_or_default();
    let whole = |name: &str| {
        let step = |row: &Value| Step { out: None, into: key(row, "sex"), n: n(row), fresh: None };
        rows(name).iter().map(step).collect()
    };
    match t.told.kind() {
        "parcel.arrived" if t.made => whole("alive"),
        "eggs.collected" => Vec::new(),
        _ if t.made => whole("rows"),
        "stock.merged" if body["into"] == stock && body["stock"] != stock => whole("rows"),
        "parcel.matched" | "history.matched" => {
            let unassigned = |row: &Value| Some(("unassigned".to_owned(), key(row, "sex").1));
            let step = |row| Step { out: unassigned(row), into: key(row, "sex"), n: n(row), fresh: None };
            rows("told_apart").iter().map(step).collect()
        }
        "stock.counted" if !t.early() => {
            // More than were there; where the records had less than none, nothing was there. A row that is named
            // twice is what it is named last.
            let counted = rows("rows");
            let mut seen: BTreeSet<Key> = BTreeSet::new();
            let firsts: Vec<Key> =
                counted.iter().map(|row| key(row, "sex")).filter(|of| seen.insert(of.clone())).collect();
            let step = |into: Key| {
                let now = counted.iter().rfind(|row| key(row, "sex") == into).map_or(0, n);
                let had = before.get(&into).copied().unwrap_or(0);
                Step { out: None, into, n: now - had, fresh: Some(now - had.max(0)) }
            };
            firsts.into_iter().map(step).collect()
        }
        "stock.sexed" if !t.early() => {
            let step =
                |row| Step { out: Some(key(row, "from")), into: key(row, "to"), n: n(row), fresh: None };
            rows("rows").iter().map(step).collect()
        }
        "eggs.hatched" if !t.early() => {
            let of =
                |row: &Value, sex: &str| (row["node"].as_str().expect("a node").to_owned(), sex.to_owned());
            let step =
                |row| Step { out: Some(of(row, "eggs")), into: of(row, "unsexed"), n: n(row), fresh: None };
            rows("rows").iter().map(step).collect()
        }
        _ => Vec::new(),
    }
}
