//! A slow reading of what came, went and was found in a room, by lineage node: from the bodies of the ops that count, one
//! after the other, each stock as plain rows. Of the domain it takes which ops count and what they name, nothing of
//! what they add up to.

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use tarn_domain::state::Memory;
use tarn_domain::streams::{Entity, OpId, parse_uuid};

/// (node, sex).
type Key = (String, String);
/// (at, clock, device, id).
type Place = (String, String, String, String);

/// Signed, by node.
pub type Sums = BTreeMap<String, i64>;

/// An op that counts.
struct Told<'a> {
    op: &'a Value,
    /// When it counts.
    place: Place,
    /// It is dated before something that it names was made.
    early: bool,
}

impl Told<'_> {
    fn kind(&self) -> &str {
        self.op["body"]["op"].as_str().unwrap_or_default()
    }

    fn says(&self, field: &str, what: &str) -> bool {
        self.op["body"][field] == what
    }

    fn makes(&self, stock: &str) -> bool {
        match self.kind() {
            "stock.established" | "stock.came_in" | "young.found" | "eggs.collected" | "parcel.arrived" => {
                self.says("stock", stock)
            }
            "stock.split" => self.says("new", stock),
            _ => false,
        }
    }

    /// The rows of a field, or of one stock if they say of which they are.
    fn rows(&self, field: &str, stock: Option<&str>) -> Vec<(Key, i64)> {
        let text = |row: &Value, name: &str| row[name].as_str().unwrap_or_default().to_owned();
        let all = self.op["body"][field].as_array().into_iter().flatten();
        all.filter(|row| stock.is_none_or(|stock| row["stock"] == stock))
            .map(|row| ((text(row, "node"), text(row, "sex")), row["n"].as_i64().unwrap_or_default()))
            .collect()
    }

    /// The eggs of a pick.
    fn eggs(&self) -> Vec<(Key, i64)> {
        let body = &self.op["body"];
        let brood = body["brood"].as_str().unwrap_or_default().to_owned();
        vec![((brood, "eggs".to_owned()), body["n"].as_i64().unwrap_or_default())]
    }

    /// Fish that are told otherwise from now on: node, of which sex, to which, how many.
    fn turned(&self) -> Vec<(String, String, String, i64)> {
        let all = self.op["body"]["rows"].as_array().into_iter().flatten();
        let text =
            |row: &Value, name: &str, otherwise: &str| row[name].as_str().unwrap_or(otherwise).to_owned();
        all.map(|row| {
            let (from, to) = (text(row, "from", "eggs"), text(row, "to", "unsexed"));
            (text(row, "node", ""), from, to, row["n"].as_i64().unwrap_or_default())
        })
        .collect()
    }
}

fn text<'a>(op: &'a Value, field: &str) -> &'a str {
    op[field].as_str().unwrap_or_default()
}

/// The ops that count, in the order in which they do.
fn counting<'a>(ops: &'a [Value], memory: &Memory) -> Vec<Told<'a>> {
    let mut live = Vec::new();
    let mut made: BTreeMap<Entity, Place> = BTreeMap::new();
    for op in ops {
        let id = parse_uuid(text(op, "id")).map(OpId);
        let Some(entry) = id.and_then(|id| memory.entry(id)).filter(|entry| entry.linked.live) else {
            continue;
        };
        let place = ["at", "clock", "device", "id"].map(|field| text(op, field).to_owned());
        let place: Place = place.into();
        for thing in &entry.linked.links.makes {
            let first = made.entry(*thing).or_insert_with(|| place.clone());
            *first = place.clone().min(first.clone());
        }
        live.push((op, entry.linked.links.clone(), place));
    }
    let told = |(op, links, mut place): (&'a Value, std::sync::Arc<tarn_domain::streams::Links>, Place)| {
        let needs =
            links.refers.iter().filter_map(|thing| made.get(thing)).map(|maker| maker.0.clone()).max();
        let early = needs.as_ref().is_some_and(|at| *at > place.0);
        place.0 = needs.filter(|_| early).unwrap_or(place.0);
        Told { op, place, early }
    };
    let mut all: Vec<Told<'a>> = live.into_iter().map(told).collect();
    all.sort_by(|a, b| a.place.cmp(&b.place));
    all
}

fn add(sums: &mut Sums, rows: Vec<(Key, i64)>, sign: i64) {
    for ((node, _), n) in rows {
        *sums.entry(node).or_default() += sign * n;
    }
}

/// Established + came in + born + corrections − lost − left − dead on the way − settled.
///
/// # Errors
/// An op with numbers of fish that these books know nothing of.
pub fn brought(ops: &[Value], memory: &Memory) -> Result<Sums, String> {
    let live = counting(ops, memory);
    let mut sums = Sums::new();
    let mut stocks = BTreeSet::new();
    for op in &live {
        match op.kind() {
            "stock.established" | "stock.came_in" | "young.found" => add(&mut sums, op.rows("rows", None), 1),
            "eggs.collected" => add(&mut sums, op.eggs(), 1),
            "stock.lost" | "stock.left" | "parcel.settled" => add(&mut sums, op.rows("rows", None), -1),
            "parcel.arrived" => add(&mut sums, op.rows("dead", None), -1),
            "stock.split" | "stock.merged" | "stock.counted" | "stock.sexed" | "eggs.hatched"
            | "parcel.packed" | "parcel.sent" | "parcel.matched" | "parcel.received" => {}
            _ if op.op["body"].get("rows").is_some() => {
                return Err(format!("these books know nothing of {}", op.op));
            }
            _ => {}
        }
        stocks.extend(op.op["body"]["stock"].as_str());
    }
    for stock in stocks {
        corrections(stock, &live, &mut sums);
    }
    sums.retain(|_, n| *n != 0);
    Ok(sums)
}

/// What counts found more or fewer in a stock.
fn corrections(stock: &str, live: &[Told<'_>], sums: &mut Sums) {
    let mut rows: BTreeMap<Key, i64> = BTreeMap::new();
    let makers = live.iter().filter(|op| op.makes(stock)).take(1);
    for op in makers.chain(live.iter().filter(|op| !op.makes(stock))) {
        let here = op.says("stock", stock);
        let (moves, sign) = match op.kind() {
            "parcel.arrived" if here => (op.rows("alive", None), 1),
            "stock.established" | "stock.came_in" | "young.found" if here => (op.rows("rows", None), 1),
            "eggs.collected" if here => (op.eggs(), 1),
            "stock.split" if op.says("new", stock) => (op.rows("rows", None), 1),
            "stock.merged" if here && op.says("into", stock) => continue,
            "stock.merged" if op.says("into", stock) => (op.rows("rows", None), 1),
            "stock.split" | "stock.merged" | "stock.lost" | "stock.left" if here => {
                (op.rows("rows", None), -1)
            }
            "parcel.sent" => (op.rows("rows", Some(stock)), -1),
            "parcel.matched" if here => {
                for ((node, sex), n) in op.rows("told_apart", None) {
                    *rows.entry(("unassigned".to_owned(), sex.clone())).or_default() -= n;
                    *rows.entry((node, sex)).or_default() += n;
                }
                continue;
            }
            "stock.sexed" | "eggs.hatched" if here && !op.early => {
                for (node, from, to, n) in op.turned() {
                    *rows.entry((node.clone(), from)).or_default() -= n;
                    *rows.entry((node, to)).or_default() += n;
                }
                continue;
            }
            "stock.counted" if here && !op.early => {
                let before = rows.clone();
                count(&mut rows, &op.rows("rows", None), op.op["body"]["all"] == true);
                rows.iter().for_each(|(key, n)| *sums.entry(key.0.clone()).or_default() += n);
                before.iter().for_each(|(key, n)| *sums.entry(key.0.clone()).or_default() -= n);
                continue;
            }
            _ => continue,
        };
        for (key, n) in moves {
            *rows.entry(key).or_default() += sign * n;
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
