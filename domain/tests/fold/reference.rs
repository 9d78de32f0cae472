//! A slow, obvious reading of how a room's ops become its state: the whole set at once, no increments, on the ops'
//! JSON with their own table of names. Takes nothing from the folds it is held against.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value, json};
use tarn_domain::catalogue::op_text;

use crate::history::Accepted;
use crate::{plain, stock};

/// A thing: its kind's word and its id.
pub type Thing = (&'static str, String);

/// An op as this reading sees it.
pub struct Told {
    /// Its five fields.
    op: Value,
    /// Written by the server.
    decision: bool,
    makes: BTreeSet<Thing>,
    needs: BTreeSet<Thing>,
    changes: BTreeSet<Thing>,
}

/// The order of ops, as text: when, clock, device, id.
pub type Place<'a> = (&'a str, &'a str, &'a str, &'a str);

impl Told {
    fn of((op, accepted): &Accepted) -> Self {
        let op: Value = serde_json::from_str(&op_text(op)).expect("JSON");
        let [makes, needs, changes] = named(&op["body"]);
        Self { decision: accepted.is_some_and(|a| a.decision), op, makes, needs, changes }
    }

    /// A field of the envelope.
    pub fn field(&self, name: &str) -> &str {
        self.op[name].as_str().expect("a text")
    }

    /// Its body.
    pub fn body(&self) -> &Value {
        &self.op["body"]
    }

    /// Its kind.
    pub fn kind(&self) -> &str {
        self.body()["op"].as_str().expect("a kind")
    }

    /// Its place in the order.
    pub fn place(&self) -> Place<'_> {
        (self.field("at"), self.field("clock"), self.field("device"), self.field("id"))
    }

    /// Which of two edits is the later.
    pub fn edit(&self) -> (&str, &str, &str) {
        (self.field("clock"), self.field("device"), self.field("id"))
    }
}

/// What is said of the room as a whole.
const OF_THE_ROOM: [&str; 6] = [
    "rule.adopted",
    "home_club.set",
    "quarantine.cleared",
    "quarantine.waived",
    "loss.judged",
    "room_rule.set",
];

/// The stocks that are listed.
fn stocks(body: &Value) -> Vec<Thing> {
    let ids = body["stocks"].as_array().cloned().unwrap_or_default();
    ids.iter().map(|id| ("stock", id.as_str().expect("an id").to_owned())).collect()
}

/// What each kind makes, needs and changes: its fields that hold ids.
fn named(body: &Value) -> [BTreeSet<Thing>; 3] {
    let [mut makes, mut needs, mut changes] = <[BTreeSet<Thing>; 3]>::default();
    let one = |word: &'static str, field: &str| body[field].as_str().map(|id| (word, id.to_owned()));
    let rows = |list: &Value| -> Vec<Thing> {
        let rows = list.as_array().cloned().unwrap_or_default();
        rows.iter().map(|row| ("stock", row["stock"].as_str().expect("an id").to_owned())).collect()
    };
    let room: Thing = ("room", "00000000-0000-0000-0000-000000000000".into());
    let kind = body["op"].as_str().expect("a kind");
    match kind {
        "water.system_set" => makes.extend(one("system", "system")),
        "tank.added" => makes.extend(one("tank", "tank")),
        "tank.described" | "tank.plumbed" | "tank.hung" => changes.extend(one("tank", "tank")),
        "water.system_joined" => changes.extend(one("system", "system")),
        "tank.emptied" => {
            changes.extend(one("tank", "tank"));
            changes.extend(one("system", "system"));
        }
        "treatment.began" => makes.extend(one("treatment", "treatment")),
        "treatment.ended" => changes.extend(one("treatment", "treatment")),
        "stock.established" | "stock.came_in" => makes.extend(one("stock", "stock")),
        "stock.split" => {
            changes.extend(one("stock", "stock"));
            if body["stock"] != body["new"] {
                makes.extend(one("stock", "new"));
            }
        }
        "stock.merged" => {
            changes.extend(one("stock", "stock"));
            changes.extend(one("stock", "into"));
        }
        "young.found" => {
            makes.extend(one("brood", "brood"));
            makes.extend(one("stock", "stock"));
            needs.extend(rows(&body["sires"]["of"]));
            needs.extend(rows(&body["dams"]["of"]));
        }
        "pair.set_up" | "spawn.seen" | "drop.seen" => {
            needs.extend(rows(&body["sires"]["of"]));
            needs.extend(rows(&body["dams"]["of"]));
        }
        "eggs.collected" => {
            makes.extend(one("stock", "stock"));
            let eggs = if body.get("new").is_some() { &mut makes } else { &mut changes };
            eggs.extend(one("brood", "brood"));
            needs.extend(rows(&body["new"]["sires"]["of"]));
            needs.extend(rows(&body["new"]["dams"]["of"]));
        }
        "eggs.checked" | "young.swam" | "spawning.failed" => {}
        "brood.corrected" => {
            changes.extend(one("brood", "brood"));
            needs.extend(rows(&body["sires"]["of"]));
            needs.extend(rows(&body["dams"]["of"]));
        }
        "brood.renamed" => changes.extend(one("brood", "brood")),
        // Told of, whether or not it is known here; a settlement may be the first that is known of a parcel.
        "history.decided" => needs.extend(stocks(body)),
        "history.taken_in" => {}
        "brood.told" | "history.told" | "parcel.received" | "parcel.settled" | "parcel.agreed"
        | "parcel.recalled" => {}
        "parcel.packed" => {
            makes.extend(one("parcel", "parcel"));
            needs.extend(rows(&body["rows"]));
        }
        "parcel.handed" => changes.extend(one("parcel", "parcel")),
        "parcel.sent" | "history.sent" => {
            changes.extend(one("parcel", "parcel"));
            changes.extend(rows(&body["rows"]));
        }
        "parcel.arrived" => makes.extend(one("stock", "stock")),
        "op.withdrawn" | "op.redacted" | "op.adopted" | "incident.seen" => {}
        kind if OF_THE_ROOM.contains(&kind) => {}
        "note.written" | "sign.seen" | "quarantine.restarted" => needs.extend(one("stock", "stock")),
        "look.done" => {
            let tanks = body["tanks"].as_array().expect("a list");
            needs.extend(tanks.iter().map(|id| ("tank", id.as_str().expect("an id").to_owned())));
        }
        "food.given" => {
            for (word, field) in [("tank", "tanks"), ("stock", "stocks")] {
                let ids = body[field].as_array().expect("a list");
                needs.extend(ids.iter().map(|id| (word, id.as_str().expect("an id").to_owned())));
            }
        }
        "water.read" | "water.logged" | "job.done" => {}
        _ => changes.extend(one("stock", "stock")),
    }
    needs.extend(changes.iter().cloned());
    let places: &[(&'static str, &str)] = match kind {
        "stock.moved" => &[("tank", "from"), ("tank", "to")],
        "tank.hung" => &[("tank", "within")],
        "water.system_joined" => &[("system", "with")],
        _ => &[("tank", "tank"), ("system", "system")],
    };
    needs.extend(places.iter().filter_map(|(word, field)| one(word, field)).filter(|t| !makes.contains(t)));
    match kind {
        "water.system_set" => changes.extend(makes.clone()),
        "brood.told" | "history.told" => {
            let nodes = body["nodes"].as_array().expect("a list");
            changes
                .extend(nodes.iter().map(|told| ("brood", told["node"].as_str().expect("an id").to_owned())));
        }
        // whatever becomes of one of them, it holds of the others
        "history.taken_in" => changes.extend(stocks(body)),
        kind if kind.starts_with("parcel.") || kind.starts_with("history.") => {
            changes.extend(one("parcel", "parcel").filter(|t| !makes.contains(t)))
        }
        kind if OF_THE_ROOM.contains(&kind) => drop(changes.insert(room)),
        _ => {}
    }
    // A step stands by itself: its spawning has no maker.
    changes.extend(one("spawning", "spawning"));
    [makes, needs, changes]
}

/// How an op stands.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    Live,
    Withdrawn,
    Inert,
    Outdone,
}

/// An op that touches one thing, ready to be folded.
pub struct Touch<'a> {
    /// The op.
    pub told: &'a Told,
    /// How it stands.
    pub standing: Standing,
    /// When it counts.
    pub at: String,
    /// It is the one that made the thing.
    pub made: bool,
}

impl Touch<'_> {
    /// Dated before the making op of something that it names.
    pub fn early(&self) -> bool {
        self.at.as_str() > self.told.field("at")
    }
}

/// The ops that count, logs among them.
pub fn counting(ops: &[Accepted]) -> BTreeSet<String> {
    let told: Vec<Told> = ops.iter().map(Told::of).collect();
    live(&told, &withdrawn(&told))
}

/// The state's text.
pub fn text(ops: &[Accepted]) -> String {
    let mut told: Vec<Told> = ops.iter().map(Told::of).collect();
    told.sort_by(|a, b| a.place().cmp(&b.place()));
    let withdrawn = withdrawn(&told);
    let live = live(&told, &withdrawn);
    let mut makers: BTreeMap<&Thing, &Told> = BTreeMap::new();
    for op in told.iter().filter(|op| live.contains(op.field("id"))) {
        for thing in &op.makes {
            makers.entry(thing).or_insert(op);
        }
    }
    let things: BTreeSet<&Thing> = told.iter().flat_map(|op| op.makes.iter().chain(&op.changes)).collect();
    let mut room: BTreeMap<&str, Map<String, Value>> = BTreeMap::new();
    for thing in things {
        let mut touches: Vec<Touch<'_>> = Vec::new();
        for op in told.iter().filter(|op| op.makes.contains(thing) || op.changes.contains(thing)) {
            let id = op.field("id");
            let first = |made: &Thing| makers.get(made).is_some_and(|maker| maker.field("id") == id);
            let outdone = op.makes.iter().any(|made| !first(made) && !op.changes.contains(made));
            let standing = match (live.contains(id), withdrawn.contains(id)) {
                (true, _) if outdone => Standing::Outdone,
                (true, _) => Standing::Live,
                (false, true) => Standing::Withdrawn,
                (false, false) => Standing::Inert,
            };
            let made_at = op.needs.iter().filter_map(|needed| Some(makers.get(needed)?.field("at")));
            let at = made_at.chain([op.field("at")]).max().expect("its own").to_owned();
            let made = standing == Standing::Live && op.makes.contains(thing) && first(thing);
            touches.push(Touch { told: op, standing, at, made });
        }
        // Nothing counts before what made the thing does.
        let key = |t: &Touch<'_>| {
            (
                !t.made,
                t.at.clone(),
                t.told.field("clock").to_owned(),
                t.told.field("device").to_owned(),
                t.told.field("id").to_owned(),
            )
        };
        touches.sort_by_key(key);
        let state = match thing.0 {
            "stock" => stock::state(&touches, &thing.1),
            kind => plain::state(kind, &thing.1, &touches),
        };
        room.entry(thing.0).or_default().insert(thing.1.clone(), state);
    }
    serde_json_canonical(&json!(room))
}

fn serde_json_canonical(value: &Value) -> String {
    tarn_domain::streams::canonical::text(value)
}

/// Taken back by an op of the set; decisions and withdrawals can't be.
fn withdrawn(told: &[Told]) -> BTreeSet<String> {
    let named: BTreeSet<&str> = told
        .iter()
        .filter(|op| op.kind() == "op.withdrawn")
        .filter_map(|op| op.body()["entry"].as_str())
        .collect();
    let may = |op: &&Told| !op.decision && op.kind() != "op.withdrawn" && named.contains(op.field("id"));
    told.iter().filter(may).map(|op| op.field("id").to_owned()).collect()
}

/// Least fixpoint: begin with nothing, add what stands on what is there, until nothing is added.
fn live(told: &[Told], withdrawn: &BTreeSet<String>) -> BTreeSet<String> {
    let mut live: BTreeSet<String> = BTreeSet::new();
    loop {
        let made: BTreeSet<&Thing> =
            told.iter().filter(|op| live.contains(op.field("id"))).flat_map(|op| &op.makes).collect();
        let more: BTreeSet<String> = told
            .iter()
            .filter(|op| !withdrawn.contains(op.field("id")))
            .filter(|op| op.needs.iter().all(|needed| made.contains(needed)))
            .map(|op| op.field("id").to_owned())
            .collect();
        if more == live {
            return live;
        }
        live = more;
    }
}

/// What any thing's ops can contradict.
pub fn findings(touches: &[Touch<'_>]) -> Vec<(&'static str, String)> {
    let kind = |t: &Touch<'_>| match t.standing {
        Standing::Live if t.early() => Some("before-made"),
        Standing::Inert => Some("inert"),
        Standing::Outdone => Some("made-twice"),
        _ => None,
    };
    touches.iter().filter_map(|t| Some((kind(t)?, t.told.field("id").to_owned()))).collect()
}

/// Findings as the state writes them: by kind, then op.
pub fn written(mut findings: Vec<(&'static str, String)>) -> Value {
    const ORDER: [&str; 12] = [
        "below-zero",
        "row-below-zero",
        "before-made",
        "inert",
        "made-twice",
        "two-places",
        "merge-left-some",
        "numbers-differ",
        "unmatched",
        "disputed",
        "not-emptied",
        "received-from-recalled",
    ];
    let rank = |kind: &str| ORDER.iter().position(|k| *k == kind);
    findings.sort_by(|a, b| (rank(a.0), &a.1).cmp(&(rank(b.0), &b.1)));
    findings.dedup();
    findings.into_iter().map(|(kind, op)| json!({"kind": kind, "op": op})).collect()
}

/// The latest edit of a field among these: (who, value), null clears.
pub fn field<'a>(edits: impl Iterator<Item = (&'a Told, Option<&'a Value>)>) -> Value {
    edits
        .filter_map(|(told, value)| Some((told.edit(), value?)))
        .max_by(|a, b| a.0.cmp(&b.0))
        .map_or(Value::Null, |(_, value)| value.clone())
}
