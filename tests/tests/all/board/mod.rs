//! The notice board, what two members write to each other, and swaps: over JSON and by the real client on both engines,
//! and in a real browser. No time is waited for: the server's clock is set.

mod client;
mod notices;
mod pages;
mod swaps;
mod threads;

use serde_json::{Value, json};
use tarn_tests::api::Answer;
use tarn_tests::engine::Engine;
use tarn_tests::pen::{Pen, id};
use tarn_tests::people::{Club, Person};
use tarn_tests::society::{Society, taken};

/// Ada's and Zoe's rooms, each with fish that the server has known for the days of the rule.
pub struct Board {
    s: Society,
    /// Ada's, 6 m 9 f.
    campo: String,
    /// The tank they swim in.
    a2: String,
    /// Their founders.
    campo_node: String,
    /// Zoe's, 12 unsexed.
    eiseni: String,
    eiseni_node: String,
    /// Belongs to the club, and is party to nothing.
    mia: Person,
    /// Belongs to another club on the server.
    otto: Person,
}

fn established(pen: &Pen, name: &str, species: &str, rows: &[(&str, u32)]) -> (Vec<Value>, [String; 3]) {
    let [tank, stock, node] = [id(), id(), id()];
    let rows: Vec<Value> = rows.iter().map(|(sex, n)| json!({"node": node, "sex": sex, "n": n})).collect();
    let ops = [
        json!({"op": "tank.added", "tank": tank, "name": "A2"}),
        json!({"op": "stock.established", "stock": stock, "tank": tank, "species": species, "name": name,
            "founders": {"node": node, "origin": "bought", "related": "not_known"}, "rows": rows}),
    ];
    (ops.map(|op| pen.op(op)).into(), [tank, stock, node])
}

impl Board {
    fn new(engine: Engine) -> Self {
        let mut board = Self::young(engine);
        board.s.wait(31);
        board.sign_in();
        board
    }

    /// The same on the first day, when nothing may leave yet.
    fn young(engine: Engine) -> Self {
        let s = Society::new(engine);
        let (ops, [a2, campo, campo_node]) =
            established(&s.adas, "line Campo", "Poecilia wingei", &[("male", 6), ("female", 9)]);
        taken(&s.ada, &s.room, &ops);
        let (ops, [_, eiseni, eiseni_node]) =
            established(&s.zoes, "pond", "Xenotoca eiseni", &[("unsexed", 12)]);
        taken(&s.zoe, &s.other_room, &ops);
        let mia = s.club.member("mia", None);
        let otto = Club::found(&s.server, "Harbour Aquarists", "olga").member("otto", None);
        Self { s, campo, a2, campo_node, eiseni, eiseni_node, mia, otto }
    }

    /// So many days after the first one; everybody signs in again.
    fn go_to(&mut self, days: i64) {
        self.s.server.stop();
        self.s.server.set_clock(&format!("{days}d"));
        self.s.server.start_again();
        let at = self.s.stranger();
        for person in [&mut self.s.ada, &mut self.s.ben, &mut self.s.zoe, &mut self.s.club.secretary] {
            *person = person.sign_in(&at);
        }
        self.sign_in();
    }

    fn sign_in(&mut self) {
        let at = self.s.stranger();
        for person in [&mut self.mia, &mut self.otto] {
            *person = person.sign_in(&at);
        }
    }

    /// What is due by now is written down and told.
    fn tell(&self) {
        self.s.server.command(&["mail", "send"]).expect(0);
    }

    /// Ada's guppies for sale.
    fn for_sale(&self) -> Value {
        json!({"id": id(), "club": self.s.club.id, "notice": {
            "kind": "for_sale", "species": "Poecilia wingei", "form": "Campo",
            "offer": {"room": self.s.room, "stock": self.campo}, "numbers": {"males": 2, "females": 3},
            "price": {"minor": 1250, "currency": "EUR"}, "area": "Upper valley", "pickup": true, "posting": false,
            "remarks": "Grown on rain water."}})
    }

    /// Ada puts them up; the notice's id.
    fn put_up(&self) -> String {
        posted(&self.s.ada, &self.for_sale())
    }

    /// Zoe's fish as something that she gives.
    fn eiseni(&self, n: u32) -> Value {
        json!({"offer": {"room": self.s.other_room, "stock": self.eiseni}, "numbers": {"unsexed": n}})
    }
}

/// Somebody looks for fish; the notice as it is posted.
fn wanted(club: &str, species: &str) -> Value {
    json!({"id": id(), "club": club, "notice": {"kind": "wanted", "species": species, "area": "Harbour",
        "pickup": true, "posting": true}})
}

fn post(who: &Person, notice: &Value) -> Answer {
    who.caller.post("/api/v1/notices", notice)
}

#[track_caller]
fn posted(who: &Person, notice: &Value) -> String {
    let answer = post(who, notice).expect(201).json();
    answer["id"].as_str().unwrap_or_else(|| panic!("no id in {answer}")).to_owned()
}

fn read(who: &Person, notice: &str) -> Answer {
    who.caller.get(&format!("/api/v1/notices/{notice}"))
}

/// The ids of a list.
fn ids(who: &Person, query: &str) -> Vec<String> {
    let found = who.caller.get(&format!("/api/v1/notices?{query}")).expect(200).json();
    let all = found["notices"].as_array().expect("notices").clone();
    all.iter().map(|notice| notice["id"].as_str().expect("an id").to_owned()).collect()
}

fn line(text: &str) -> Value {
    json!({"id": id(), "text": text})
}

/// Replies to a notice; the thread.
#[track_caller]
fn reply(who: &Person, notice: &str, text: &str) -> String {
    let answer =
        who.caller.post(&format!("/api/v1/notices/{notice}/replies"), &line(text)).expect(201).json();
    answer["thread"].as_str().expect("a thread").to_owned()
}

fn messages(who: &Person) -> Vec<String> {
    let told = who.caller.get("/api/v1/messages").expect(200).json();
    let lines = told["messages"].as_array().expect("messages").clone();
    lines.iter().map(|m| m["text"].as_str().expect("a text").to_owned()).collect()
}

/// How many of somebody's messages have this in them.
fn told(who: &Person, words: &str) -> usize {
    messages(who).iter().filter(|text| text.contains(words)).count()
}
