//! What random ops say: a body of each kind, about any of a few things.

use serde_json::{Value, json};
use tarn_domain::quarantine::Rule;
use uuid::Uuid;

use crate::history::{Accepted, Author, CLUB, NODE, OP, SPAWNING, STOCK, SYSTEM, TANK, id};

impl Author {
    /// One thing of a kind.
    pub fn one(&mut self, kind: u8) -> Uuid {
        id(kind, self.dice.below(self.wide))
    }

    /// Names one thing of a kind, so often in a hundred.
    pub fn maybe(&mut self, body: &mut Value, field: &str, kind: u8, share: u64) {
        if self.dice.percent(share) {
            body[field] = json!(self.one(kind));
        }
    }

    /// Some word.
    pub fn word(&mut self) -> &'static str {
        self.dice.pick(&["a", "b", "c"])
    }

    /// A node, or that it was not told.
    pub fn node(&mut self) -> Value {
        if self.dice.percent(50) { json!("unassigned") } else { json!(self.one(NODE)) }
    }

    /// Any sex.
    pub fn sex(&mut self) -> &'static str {
        self.dice.pick(&["male", "female", "unsexed", "eggs", "any", "any"])
    }

    /// Some rows.
    pub fn rows(&mut self) -> Value {
        let many = self.dice.below(4);
        (0..many)
            .map(|_| {
                let mut row = json!({"node": self.node(), "sex": self.sex(), "n": self.dice.below(9)});
                if self.dice.percent(20) {
                    row["about"] = json!(true);
                }
                row
            })
            .collect()
    }

    /// Some of these fields, set or cleared.
    pub fn edits(&mut self, body: &mut Value, fields: &[&str], value: impl Fn(&'static str) -> Value) {
        for field in fields {
            if self.dice.percent(40) {
                body[*field] = if self.dice.percent(25) { Value::Null } else { value(self.word()) };
            }
        }
    }

    /// Some of these fields, set.
    pub fn names(&mut self, body: &mut Value, fields: &[&str]) {
        for field in fields {
            if self.dice.percent(30) {
                body[*field] = json!(self.word());
            }
        }
    }

    fn window(&mut self) -> Value {
        let at = |s: u64| format!("2026-03-01T00:00:{s:02}Z");
        let from = self.dice.below(15) as u64;
        json!({"from": at(from), "to": at(from + self.dice.below(9) as u64)})
    }

    /// One side.
    pub fn parents(&mut self) -> Value {
        let mut of = json!([{"stock": self.one(STOCK), "node": self.node(), "n": self.dice.below(4)}]);
        if self.dice.percent(20) {
            of[0]["weight"] = json!(1000);
        }
        json!({"of": of, "draw": self.dice.pick(&["one", "many"])})
    }

    /// A random op.
    pub fn op(&mut self, place: usize) -> Accepted {
        let kind = self.kind(place);
        let mut b = json!({ "op": kind });
        let at = |s: i64| format!("2026-03-01T00:00:{s:02}Z");
        match kind {
            "water.system_set" => {
                b["system"] = json!(self.one(SYSTEM));
                self.edits(&mut b, &["name"], |w| json!(w));
                let volumes = ["gross_ml", "net_ml", "sump_ml", "pipes_ml", "displacement_ml"];
                self.edits(&mut b, &volumes, |w| json!(w.len() * 1000));
            }
            "tank.added" | "tank.described" => {
                b["tank"] = json!(self.one(TANK));
                if kind == "tank.added" {
                    b["name"] = json!(self.word());
                    self.names(&mut b, &["stand", "shelf", "place"]);
                } else {
                    self.edits(&mut b, &["name", "stand", "shelf", "place"], |w| json!(w));
                    self.edits(&mut b, &["volume_ml", "displacement_ml"], |w| json!(w.len() * 500));
                }
            }
            "tank.plumbed" => {
                b["tank"] = json!(self.one(TANK));
                b["system"] = Value::Null;
                self.maybe(&mut b, "system", SYSTEM, 75);
            }
            "stock.established" | "stock.came_in" => {
                b["stock"] = json!(self.one(STOCK));
                b["rows"] = self.rows();
                self.maybe(&mut b, "tank", TANK, 75);
                self.names(&mut b, &["name", "species", "form"]);
                if self.dice.percent(30) {
                    b["keeping"] = json!(self.dice.pick(&["pair", "colony"]));
                }
                if kind == "stock.came_in" {
                    b["from"] = json!(self.dice.pick(&["shop", "wild"]));
                    b["founders"] = json!({"node": self.one(NODE), "origin": "wild", "related": "unrelated"});
                }
            }
            "stock.described" => {
                b["stock"] = json!(self.one(STOCK));
                self.edits(&mut b, &["name", "species", "form", "note"], |w| json!(w));
                self.edits(&mut b, &["keeping"], |w| json!(if w == "a" { "trio" } else { "harem" }));
                self.edits(&mut b, &["virgin"], |w| json!(w == "a"));
            }
            "stock.moved" => {
                b["stock"] = json!(self.one(STOCK));
                (b["from"], b["to"]) = (Value::Null, Value::Null);
                self.maybe(&mut b, "from", TANK, 80);
                self.maybe(&mut b, "to", TANK, 80);
                if self.dice.percent(20) {
                    b["companion"] = json!(true);
                }
            }
            "stock.split" => {
                (b["stock"], b["new"], b["rows"]) =
                    (json!(self.one(STOCK)), json!(self.one(STOCK)), self.rows());
                self.maybe(&mut b, "tank", TANK, 75);
                self.names(&mut b, &["name"]);
            }
            "stock.merged" => {
                (b["stock"], b["into"], b["rows"]) =
                    (json!(self.one(STOCK)), json!(self.one(STOCK)), self.rows());
            }
            "stock.counted" => {
                (b["stock"], b["rows"], b["all"]) =
                    (json!(self.one(STOCK)), self.rows(), json!(self.dice.percent(50)));
            }
            "stock.sexed" => {
                let row = json!({"node": self.node(), "from": self.sex(), "to": self.sex(), "n": self.dice.below(5)});
                (b["stock"], b["rows"]) = (json!(self.one(STOCK)), json!([row]));
            }
            "stock.lost" => {
                (b["stock"], b["rows"]) = (json!(self.one(STOCK)), self.rows());
                b["cause"] = json!(self.dice.pick(&["unknown", "culled", "jumped"]));
                if self.dice.percent(50) {
                    b["reason"] = json!(self.dice.pick(&["", " ", "bent"]));
                }
                if self.dice.percent(20) {
                    b["incident"] = json!(id(OP, self.dice.below(self.ops)));
                }
            }
            "stock.left" => {
                (b["stock"], b["rows"], b["to"]) = (json!(self.one(STOCK)), self.rows(), json!("shop"));
            }
            "note.written" => {
                b["text"] = json!("seen");
                self.maybe(&mut b, "stock", STOCK, 70);
                self.maybe(&mut b, "tank", TANK, 30);
            }
            "look.done" => b["tanks"] = json!([self.one(TANK)]),
            "food.given" => {
                (b["tanks"], b["stocks"]) = (json!([self.one(TANK)]), json!([self.one(STOCK)]));
                b["food"] = json!("brine shrimp");
            }
            "water.read" => {
                let reading = json!({"what": "temperature", "typed": "24.5", "unit": "C", "milli": 24_500});
                b["values"] = json!([reading]);
                self.maybe(&mut b, "system", SYSTEM, 50);
                self.maybe(&mut b, "tank", TANK, 50);
            }
            "water.logged" => {
                b["over_s"] = json!(3600);
                b["values"] = json!([{"what": "ph", "n": 4, "least": 7_000, "mean": 7_100, "most": 7_300}]);
                self.maybe(&mut b, "system", SYSTEM, 50);
                self.maybe(&mut b, "tank", TANK, 50);
            }
            "sign.seen" => {
                b["sign"] = json!("white spots");
                self.maybe(&mut b, "stock", STOCK, 50);
            }
            "job.done" => {
                b["job"] = json!("water change");
                self.maybe(&mut b, "system", SYSTEM, 50);
            }
            "op.withdrawn" => b["entry"] = json!(id(OP, self.dice.below(self.ops))),
            "young.found" => {
                (b["brood"], b["stock"], b["rows"]) =
                    (json!(self.one(NODE)), json!(self.one(STOCK)), self.rows());
                (b["code"], b["name"]) = (json!(self.word()), json!({}));
                self.maybe(&mut b, "tank", TANK, 75);
                self.maybe(&mut b, "spawning", SPAWNING, 60);
                if self.dice.percent(40) {
                    b["window"] = self.window();
                }
                let mut name = json!({});
                self.names(&mut name, &["species", "form", "trade", "collection", "line", "determined_by"]);
                b["name"] = name;
                for side in ["sires", "dams"] {
                    if self.dice.percent(40) {
                        b[side] = self.parents();
                    }
                }
            }
            "pair.set_up" | "spawn.seen" | "drop.seen" => {
                b["spawning"] = json!(self.one(SPAWNING));
                self.maybe(&mut b, "tank", TANK, 50);
                for side in ["sires", "dams"] {
                    if self.dice.percent(60) {
                        b[side] = self.parents();
                    }
                }
            }
            "eggs.collected" => {
                (b["brood"], b["stock"]) = (json!(self.one(NODE)), json!(self.one(STOCK)));
                (b["window"], b["n"]) = (self.window(), json!(self.dice.below(40)));
                self.maybe(&mut b, "spawning", SPAWNING, 70);
                self.maybe(&mut b, "tank", TANK, 50);
                self.names(&mut b, &["name", "species", "form"]);
                if self.dice.percent(30) {
                    b["about"] = json!(true);
                }
                if self.dice.percent(60) {
                    let mut name = json!({});
                    self.names(&mut name, &["species", "form"]);
                    b["new"] = json!({"code": self.word(), "name": name});
                    if self.dice.percent(50) {
                        b["new"]["dams"] = self.parents();
                    }
                }
            }
            "eggs.checked" => {
                b["spawning"] = json!(self.one(SPAWNING));
                b["laid"] = json!(self.dice.below(60));
                if self.dice.percent(50) {
                    b["fungused"] = json!(self.dice.below(9));
                }
            }
            "eggs.hatched" => {
                b["stock"] = json!(self.one(STOCK));
                b["rows"] = json!([{"node": self.node(), "n": self.dice.below(9)}]);
                self.maybe(&mut b, "spawning", SPAWNING, 70);
            }
            "young.swam" => b["spawning"] = json!(self.one(SPAWNING)),
            "spawning.failed" => {
                b["spawning"] = json!(self.one(SPAWNING));
                b["why"] = json!(self.dice.pick(&["eaten", "infertile", "fungus", "unknown"]));
            }
            "rule.adopted" => {
                let rule = serde_json::to_value(Rule::shipped()).expect("a rule");
                (b["club"], b["version"], b["rule"]) = (json!(self.one(CLUB)), json!(place), rule);
                (b["from"], b["relies"]) = (json!(at(self.dice.of_range(0..30))), json!([]));
            }
            "home_club.set" => {
                (b["club"], b["relies"]) = (Value::Null, json!([]));
                b["from"] = json!(at(self.dice.of_range(0..30)));
                self.maybe(&mut b, "club", CLUB, 70);
            }
            _ => {
                let body = self.clock_body(kind).or_else(|| self.kin_body(kind));
                b = body.unwrap_or_else(|| panic!("no body for {kind}"));
            }
        }
        self.envelope(place, b)
    }

    /// Makers at first, so that there is something to speak of; later anything.
    fn kind(&mut self, place: usize) -> &'static str {
        const MAKERS: [&str; 7] = [
            "water.system_set",
            "tank.added",
            "tank.added",
            "stock.established",
            "stock.came_in",
            "stock.split",
            "treatment.began",
        ];
        const ALL: [&str; 88] = [
            "water.system_set",
            "tank.added",
            "tank.described",
            "tank.plumbed",
            "tank.plumbed",
            "stock.established",
            "stock.came_in",
            "stock.described",
            "stock.moved",
            "stock.moved",
            "stock.moved",
            "stock.moved",
            "stock.split",
            "stock.split",
            "stock.merged",
            "stock.merged",
            "stock.counted",
            "stock.counted",
            "stock.counted",
            "stock.sexed",
            "stock.lost",
            "stock.lost",
            "stock.left",
            "note.written",
            "look.done",
            "food.given",
            "water.read",
            "water.logged",
            "sign.seen",
            "job.done",
            "op.withdrawn",
            "op.withdrawn",
            "op.withdrawn",
            "young.found",
            "young.found",
            "pair.set_up",
            "pair.set_up",
            "spawn.seen",
            "drop.seen",
            "eggs.collected",
            "eggs.collected",
            "eggs.collected",
            "eggs.checked",
            "eggs.hatched",
            "eggs.hatched",
            "young.swam",
            "spawning.failed",
            "parcel.packed",
            "parcel.handed",
            "parcel.sent",
            "parcel.arrived",
            "parcel.matched",
            "parcel.matched",
            "parcel.received",
            "parcel.settled",
            "parcel.agreed",
            "parcel.recalled",
            "brood.corrected",
            "brood.corrected",
            "brood.renamed",
            "brood.renamed",
            "brood.told",
            "history.told",
            "history.sent",
            "history.sent",
            "history.matched",
            "history.decided",
            "history.taken_in",
            "brood.told",
            "rule.adopted",
            "home_club.set",
            "tank.hung",
            "tank.hung",
            "tank.emptied",
            "tank.emptied",
            "water.system_joined",
            "water.system_joined",
            "treatment.began",
            "treatment.ended",
            "treatment.ended",
            "incident.seen",
            "quarantine.restarted",
            "room_rule.set",
            "room_rule.set",
            "quarantine.waived",
            "loss.judged",
            "quarantine.cleared",
            "quarantine.cleared",
        ];
        let first = place < self.wide * 3 && self.dice.percent(80);
        if first {
            self.dice.pick(&MAKERS)
        } else if self.kin && self.dice.percent(60) {
            self.dice.pick(&crate::kin::OFTEN)
        } else {
            self.dice.pick(&ALL)
        }
    }
}
