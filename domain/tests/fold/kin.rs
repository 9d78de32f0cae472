//! What random ops say of who is whose young and of parcels: bodies of the kinds that came with them.

use serde_json::{Value, json};

use crate::history::{Author, NODE, OP, PARCEL, STOCK, id};

/// What a history that is about broods and parcels is mostly made of.
pub const OFTEN: [&str; 16] = [
    "young.found",
    "young.found",
    "brood.corrected",
    "brood.corrected",
    "brood.corrected",
    "brood.renamed",
    "brood.told",
    "parcel.packed",
    "parcel.sent",
    "parcel.sent",
    "parcel.arrived",
    "parcel.arrived",
    "parcel.matched",
    "parcel.received",
    "stock.sexed",
    "stock.described",
];

impl Author {
    /// The fields of such a kind; none for another kind.
    pub fn kin_body(&mut self, kind: &str) -> Option<Value> {
        let mut b = json!({ "op": kind });
        if kind.starts_with("history.") {
            b["entry"] = json!(id(OP, 9_000));
        }
        if kind.starts_with("parcel.") || ["history.sent", "history.matched"].contains(&kind) {
            b["parcel"] = json!(self.one(PARCEL));
        }
        match kind {
            "brood.corrected" => {
                b["brood"] = json!(self.one(NODE));
                for side in ["sires", "dams"] {
                    if self.dice.percent(60) {
                        b[side] = if self.dice.percent(25) { Value::Null } else { self.parents() };
                    }
                }
                self.names(&mut b, &["why"]);
            }
            "brood.renamed" => {
                (b["brood"], b["why"]) = (json!(self.one(NODE)), json!(self.word()));
                let mut name = json!({});
                let fields = ["code", "species", "form", "trade", "collection", "line", "determined_by"];
                self.edits(&mut name, &fields, |w| json!(w));
                self.edits(&mut name, &["sure"], |w| json!(w == "a"));
                b["name"] = name;
            }
            "brood.told" | "history.told" => {
                b["brood"] = json!(self.one(NODE));
                b["what"] = json!(self.dice.pick(&["corrected", "renamed", "disputed", "disputed"]));
                b["nodes"] = self.ancestry();
                if kind == "brood.told" {
                    (b["from"], b["head"]) =
                        (json!(id(OP, self.dice.below(self.ops))), json!(self.dice.below(4)));
                }
                // Most tell of the brood itself, of which more is said in the same entry.
                if self.dice.percent(70) {
                    let of_it = json!({"node": b["brood"], "is": {"brood": {"code": self.word()}}});
                    b["nodes"].as_array_mut().expect("nodes").insert(0, of_it);
                }
                self.names(&mut b, &["why"]);
            }
            "parcel.packed" => {
                b["rows"] = self.packed();
                self.names(&mut b, &["to"]);
            }
            "parcel.handed" | "parcel.recalled" => {}
            "history.sent" => (b["rows"], b["ancestry"]) = (self.packed(), self.ancestry()),
            "parcel.sent" => {
                (b["rows"], b["ancestry"]) = (self.packed(), self.ancestry());
                self.relies_on_one(&mut b);
                if self.dice.percent(50) {
                    b["to"] = json!(id(9, self.dice.below(2)));
                }
            }
            "parcel.arrived" => {
                // Often a stock of its own: one parcel can come twice.
                let fresh = id(STOCK, self.wide + self.dice.below(4));
                b["stock"] = if self.dice.percent(60) { json!(fresh) } else { json!(self.one(STOCK)) };
                b["alive"] = self.rows();
                if self.dice.percent(40) {
                    b["dead"] = self.rows();
                }
                if self.dice.percent(60) {
                    b["ancestry"] = self.ancestry();
                }
                self.maybe(&mut b, "tank", crate::history::TANK, 60);
                self.names(&mut b, &["name", "species", "form"]);
            }
            "parcel.matched" | "history.matched" => {
                let fresh = id(STOCK, self.wide + self.dice.below(4));
                b["stock"] = if self.dice.percent(40) { json!(fresh) } else { json!(self.one(STOCK)) };
                b["sent"] = self.rows();
                b["ancestry"] = self.ancestry();
                if self.dice.percent(70) {
                    b["told_apart"] = self.rows();
                }
                if kind == "parcel.matched" {
                    self.relies_on_one(&mut b);
                }
            }
            "parcel.received" => {
                (b["at"], b["alive"]) = (json!("2026-03-01T00:00:07Z"), self.rows());
                if self.dice.percent(40) {
                    b["dead"] = self.rows();
                }
            }
            "parcel.settled" => {
                b["outcome"] = json!(self.dice.pick(&["arrived", "returned", "lost"]));
                let open =
                    |s: &mut Self| json!({"node": s.node(), "sex": s.sex(), "n": s.dice.of_range(-3..4)});
                b["rows"] = (0..self.dice.below(3)).map(|_| open(self)).collect();
                (b["why"], b["officer"]) = (json!(self.word()), json!(id(9, 1)));
                self.relies_on_one(&mut b);
            }
            "parcel.agreed" => {
                b["stocks"] = (0..self.dice.below(3)).map(|_| json!(self.one(STOCK))).collect();
                (b["to"], b["login"], b["why"]) = (json!(id(9, 2)), json!(self.word()), json!(self.word()));
                b["steward"] = json!(id(9, 1));
                self.relies_on_one(&mut b);
            }
            "history.decided" => {
                b["stocks"] = (0..self.dice.below(3)).map(|_| json!(self.one(STOCK))).collect();
                (b["kind"], b["said"]) = (json!("quarantine.cleared"), json!("{}"));
            }
            "history.taken_in" => {
                b = json!({"op": kind, "epoch": id(9, 3), "head": 4, "claims": 3, "decisions": 1});
                b["stocks"] = (0..self.dice.below(3)).map(|_| json!(self.one(STOCK))).collect();
            }
            _ => return None,
        }
        Some(b)
    }

    fn relies_on_one(&mut self, b: &mut Value) {
        b["relies"] = json!([id(OP, self.dice.below(self.ops))]);
    }

    fn packed(&mut self) -> Value {
        let many = self.dice.below(3);
        let row = |s: &mut Self| json!({"stock": s.one(STOCK), "node": s.node(), "sex": s.sex(), "n": s.dice.below(5)});
        (0..many).map(|_| row(self)).collect()
    }

    /// A few nodes, made here or not, now and then one twice, and few ways to speak of each: copies of one node are
    /// as often the same as not.
    fn ancestry(&mut self) -> Value {
        (0..self.dice.below(4))
            .map(|_| {
                // twice as many as there are broods: some can be known by being told of only
                let node = id(NODE, self.dice.below(2 * self.wide));
                let is = match self.dice.below(4) {
                    0 | 1 => json!({"brood": {"code": self.word()}}),
                    2 => json!({"breeders": {"of": self.node(), "sex": "male", "n": 2}}),
                    _ => json!({"founders": {"origin": "wild", "related": "unrelated"}}),
                };
                json!({"node": node, "is": is})
            })
            .collect()
    }
}
