//! A slow reading of what came, went and was found in a room, by node: from the ops that count, one after the other,
//! each stock as plain rows. Takes nothing from the folds.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;
use tarn_domain::catalogue::op_text;

use crate::ledger::Entry;

/// (node, sex).
type Key = (String, String);

/// Signed, by node.
pub type Sums = BTreeMap<String, i64>;

struct Told {
    op: Value,
    makes: Vec<String>,
    needs: Vec<String>,
    decision: bool,
}

impl Told {
    fn of((op, accepted): &Entry) -> Self {
        let op: Value = serde_json::from_str(&op_text(op)).expect("JSON");
        let body = &op["body"];
        let text = |field: &str| body[field].as_str().map(str::to_owned);
        let stocks = |field: &str, of: Option<&str>| -> Vec<String> {
            let rows = of.map_or(&body[field], |of| &body[field][of]).as_array();
            rows.into_iter().flatten().filter_map(|row| row["stock"].as_str().map(str::to_owned)).collect()
        };
        let (mut makes, mut needs) = (Vec::new(), Vec::new());
        match body["op"].as_str().expect("a kind") {
            "tank.added" => makes.extend(text("tank")),
            "stock.established" | "stock.came_in" | "parcel.arrived" => {
                makes.extend(text("stock"));
                needs.extend(text("tank"));
            }
            "stock.split" => {
                makes.extend(text("new"));
                needs.extend(text("stock"));
            }
            "stock.merged" => needs.extend(text("stock").into_iter().chain(text("into"))),
            "young.found" => {
                makes.extend(text("stock").into_iter().chain(text("brood")));
                needs.extend(stocks("sires", Some("of")).into_iter().chain(stocks("dams", Some("of"))));
            }
            "parcel.packed" => {
                makes.extend(text("parcel"));
                needs.extend(stocks("rows", None));
            }
            "parcel.handed" => needs.extend(text("parcel")),
            "parcel.sent" => needs.extend(text("parcel").into_iter().chain(stocks("rows", None))),
            "op.withdrawn" | "parcel.received" | "parcel.settled" => {}
            "stock.counted" | "stock.sexed" | "stock.lost" | "stock.left" | "parcel.matched" => {
                needs.extend(text("stock"));
            }
            kind => panic!("{kind} is in no season"),
        }
        Self { decision: accepted.is_some_and(|a| a.decision), makes, needs, op }
    }

    fn body(&self) -> &Value {
        &self.op["body"]
    }

    fn kind(&self) -> &str {
        self.body()["op"].as_str().expect("a kind")
    }

    fn text(&self, field: &str) -> &str {
        self.op[field].as_str().expect("a text")
    }

    fn rows(&self, field: &str) -> Vec<(Key, i64)> {
        let text = |row: &Value, name: &str| row[name].as_str().expect("a text").to_owned();
        let rows = self.body()[field].as_array().cloned().unwrap_or_default();
        rows.iter()
            .map(|row| ((text(row, "node"), text(row, "sex")), row["n"].as_i64().expect("n")))
            .collect()
    }
}

/// The ops that count: not taken back, and all they need is made by one that counts.
fn counting(told: &[Told]) -> Vec<&Told> {
    let back: BTreeSet<&str> = told.iter().filter_map(|op| op.body()["entry"].as_str()).collect();
    let stands = |op: &&Told| op.decision || !back.contains(op.text("id"));
    let mut made: BTreeSet<&str> = BTreeSet::new();
    loop {
        let rests = |op: &&Told| op.needs.iter().all(|need| made.contains(need.as_str()));
        let now: BTreeSet<&str> = told
            .iter()
            .filter(stands)
            .filter(rests)
            .flat_map(|op| op.makes.iter().map(String::as_str))
            .collect();
        if now == made {
            return told
                .iter()
                .filter(stands)
                .filter(|op| op.needs.iter().all(|need| made.contains(need.as_str())))
                .collect();
        }
        made = now;
    }
}

fn add(sums: &mut Sums, rows: Vec<(Key, i64)>, sign: i64) {
    for ((node, _), n) in rows {
        *sums.entry(node).or_default() += sign * n;
    }
}

/// Established + came in + born + corrections − lost − left − dead on the way − settled.
pub fn brought(ops: &[Entry]) -> Sums {
    let told: Vec<Told> = ops.iter().map(Told::of).collect();
    let mut live = counting(&told);
    let made: BTreeMap<&str, &str> =
        live.iter().flat_map(|op| op.makes.iter().map(|thing| (thing.as_str(), op.text("at")))).collect();
    let counts = |op: &Told| {
        let needs = op.needs.iter().filter_map(|need| made.get(need.as_str()).copied());
        needs.chain([op.text("at")]).max().expect("its own").to_owned()
    };
    live.sort_by_key(|op| (counts(op), op.text("clock").to_owned(), op.text("id").to_owned()));
    let mut sums = Sums::new();
    for op in &live {
        match op.kind() {
            "stock.established" | "stock.came_in" | "young.found" => add(&mut sums, op.rows("rows"), 1),
            "stock.lost" | "stock.left" | "parcel.settled" => add(&mut sums, op.rows("rows"), -1),
            "parcel.arrived" => add(&mut sums, op.rows("dead"), -1),
            _ => {}
        }
    }
    let stocks: BTreeSet<&str> = live.iter().filter_map(|op| op.body()["stock"].as_str()).collect();
    for stock in stocks {
        corrections(stock, &live, &counts, &mut sums);
    }
    sums.retain(|_, n| *n != 0);
    sums
}

/// What counts found more or fewer in a stock.
fn corrections(stock: &str, live: &[&Told], counts: &dyn Fn(&Told) -> String, sums: &mut Sums) {
    let mut rows: BTreeMap<Key, i64> = BTreeMap::new();
    let is_maker = |op: &&&Told| op.makes.iter().any(|made| made == stock);
    let first = live.iter().find(is_maker).into_iter();
    for op in first.chain(live.iter().filter(|op| !is_maker(op))) {
        let here = |field: &str| op.body()[field] == *stock;
        let early = counts(op).as_str() > op.text("at");
        let moves: Vec<(&str, i64)> = match op.kind() {
            "parcel.arrived" if here("stock") => vec![("alive", 1)],
            "stock.established" | "stock.came_in" | "young.found" if here("stock") => vec![("rows", 1)],
            "stock.split" if here("new") => vec![("rows", 1)],
            "stock.merged" if here("into") => vec![("rows", 1)],
            "stock.split" | "stock.merged" | "stock.lost" | "stock.left" if here("stock") => {
                vec![("rows", -1)]
            }
            "parcel.sent" => {
                for (row, (key, n)) in op.body()["rows"].as_array().expect("rows").iter().zip(op.rows("rows"))
                {
                    if row["stock"] == *stock {
                        *rows.entry(key).or_default() -= n;
                    }
                }
                Vec::new()
            }
            "parcel.matched" if here("stock") => {
                for ((node, sex), n) in op.rows("told_apart") {
                    *rows.entry(("unassigned".to_owned(), sex.clone())).or_default() -= n;
                    *rows.entry((node, sex)).or_default() += n;
                }
                Vec::new()
            }
            "stock.sexed" if here("stock") && !early => {
                for row in op.body()["rows"].as_array().expect("rows") {
                    let of = |sex: &str| {
                        (
                            row["node"].as_str().expect("a node").to_owned(),
                            row[sex].as_str().expect("a sex").to_owned(),
                        )
                    };
                    let n = row["n"].as_i64().expect("n");
                    *rows.entry(of("from")).or_default() -= n;
                    *rows.entry(of("to")).or_default() += n;
                }
                Vec::new()
            }
            "stock.counted" if here("stock") && !early => {
                let before = rows.clone();
                count(&mut rows, &op.rows("rows"), op.body()["all"] == true);
                for (key, n) in rows.iter() {
                    *sums.entry(key.0.clone()).or_default() += n - before.get(key).copied().unwrap_or(0);
                }
                for (key, n) in before.iter().filter(|(key, _)| !rows.contains_key(*key)) {
                    *sums.entry(key.0.clone()).or_default() -= n;
                }
                Vec::new()
            }
            _ => Vec::new(),
        };
        for (field, sign) in moves {
            for (key, n) in op.rows(field) {
                *rows.entry(key).or_default() += sign * n;
            }
        }
    }
}

/// Sets what it names; what it finds fewer pays what was taken without a sex, of the node, then of those not told apart.
fn count(rows: &mut BTreeMap<Key, i64>, counted: &[(Key, i64)], all: bool) {
    for (key, n) in counted {
        let mut fewer = rows.insert(key.clone(), *n).unwrap_or(0) - n;
        for node in [key.0.as_str(), "unassigned"].into_iter().filter(|_| key.1 != "any") {
            let debt = rows.entry((node.to_owned(), "any".to_owned())).or_default();
            while fewer > 0 && *debt < 0 {
                (*debt, fewer) = (*debt + 1, fewer - 1);
            }
        }
    }
    if all {
        rows.retain(|key, _| counted.iter().any(|(named, _)| named == key));
    }
}
