//! What random ops say of waters that meet, treatments, incidents and quarantine: bodies of the kinds that the
//! quarantine clock reads.

use serde_json::{Value, json};
use tarn_domain::quarantine::Rule;

use crate::history::{Author, CLUB, OP, STOCK, SYSTEM, TANK, TREATMENT, id};

impl Author {
    /// The fields of such a kind; none for another kind.
    pub fn clock_body(&mut self, kind: &str) -> Option<Value> {
        let mut b = json!({ "op": kind });
        match kind {
            "tank.hung" => {
                (b["tank"], b["within"]) = (json!(self.one(TANK)), Value::Null);
                self.maybe(&mut b, "within", TANK, 75);
            }
            "water.system_joined" => {
                (b["system"], b["with"]) = (json!(self.one(SYSTEM)), Value::Null);
                self.maybe(&mut b, "with", SYSTEM, 75);
            }
            "tank.emptied" => {
                b["how"] = json!(self.dice.pick(&["dried", "disinfected"]));
                self.maybe(&mut b, "tank", TANK, 60);
                self.maybe(&mut b, "system", SYSTEM, 40);
            }
            "treatment.began" => {
                b["treatment"] = json!(self.one(TREATMENT));
                (b["with"], b["what"]) = (json!(self.dice.pick(&["medicine", "salt"])), json!(self.word()));
                self.maybe(&mut b, "tank", TANK, 50);
                self.maybe(&mut b, "system", SYSTEM, 50);
                self.names(&mut b, &["by"]);
            }
            "treatment.ended" => b["treatment"] = json!(self.one(TREATMENT)),
            "incident.seen" => {
                b["what"] = json!(self.dice.pick(&["heater", "power"]));
                self.maybe(&mut b, "tank", TANK, 50);
                self.maybe(&mut b, "system", SYSTEM, 50);
                self.names(&mut b, &["remark"]);
            }
            "quarantine.restarted" => {
                (b["stock"], b["why"]) = (json!(self.one(STOCK)), json!(self.word()));
                b["from"] = self.time();
            }
            "room_rule.set" => {
                b["rule"] = Value::Null;
                if self.dice.percent(75) {
                    let days = 20 + self.dice.below(30);
                    b["rule"] = serde_json::to_value(Rule::shipped()).expect("a rule");
                    b["rule"]["min_days"] = json!(days);
                }
            }
            "quarantine.waived" => {
                (b["unit"], b["club"], b["steward"]) =
                    (json!(id(10, 0)), json!(self.one(CLUB)), json!(id(9, 1)));
                b["waivers"] = self.waivers();
                self.relies(&mut b);
            }
            "loss.judged" => {
                (b["club"], b["steward"], b["why"]) =
                    (json!(self.one(CLUB)), json!(id(9, 1)), json!(self.word()));
                b["entry"] = json!(id(OP, self.dice.below(self.ops)));
                self.relies(&mut b);
            }
            "quarantine.cleared" => {
                (b["unit"], b["club"], b["steward"]) =
                    (json!(id(10, 0)), json!(self.one(CLUB)), json!(id(9, 1)));
                (b["members"], b["rules"], b["held"]) = (json!([self.one(STOCK)]), json!([]), json!(30));
                b["seen"] = json!(self.dice.pick(&["visit", "keepers_word"]));
                self.maybe(&mut b, "steward_club", CLUB, 30);
                if self.dice.percent(40) {
                    b["waivers"] = self.waivers();
                }
                self.relies(&mut b);
            }
            _ => return None,
        }
        Some(b)
    }

    fn time(&mut self) -> Value {
        json!(format!("2026-03-01T00:00:{:02}Z", self.dice.of_range(0..30)))
    }

    fn relies(&mut self, b: &mut Value) {
        b["relies"] =
            if self.dice.percent(30) { json!([id(OP, self.dice.below(self.ops))]) } else { json!([]) };
    }

    fn waivers(&mut self) -> Value {
        const KINDS: [&str; 5] =
            ["observation-gap", "recorded-late", "evidence-withdrawn", "found-more", "many-named-losses"];
        (0..1 + self.dice.below(2))
            .map(|_| {
                let mut waiver = json!({"blocker": self.dice.pick(&KINDS), "why": self.word()});
                if self.dice.percent(50) {
                    waiver["entry"] = json!(id(OP, self.dice.below(self.ops)));
                }
                self.maybe(&mut waiver, "stock", STOCK, 50);
                if self.dice.percent(50) {
                    waiver["until"] = self.time();
                }
                waiver
            })
            .collect()
    }
}
