//! Who descends from whom over several rooms: what a home corrects reaches all who hold its fish, and nothing becomes its
//! own ancestor.

mod corrected;
mod told;

use serde_json::{Value, json};
use tarn_tests::engine::Engine;
use tarn_tests::pen::{Pen, clock, id, now_ms, push, tank};
use tarn_tests::people::Person;
use tarn_tests::society::{Society, taken};

/// What was always here may leave only after a month; so long the server's clock goes on before anything is sent.
const WAITED: i64 = 80;

/// Two rooms of which each breeds and sends the other young.
pub struct Rooms {
    /// The people.
    pub s: Society,
}

/// A stock and the node that its fish are of.
#[derive(Debug, Clone)]
pub struct Fish {
    /// The stock.
    pub stock: String,
    /// The brood or founders.
    pub node: String,
}

/// Which of the two rooms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Of {
    /// Ada's.
    Ada,
    /// Zoe's.
    Zoe,
}

impl Of {
    fn other(self) -> Self {
        if self == Self::Ada { Self::Zoe } else { Self::Ada }
    }
}

impl Rooms {
    /// Both, with founders that may leave: a pair of each.
    pub fn new(engine: Engine) -> (Self, Fish, Fish) {
        let mut s = Society::new(engine);
        let [adas, zoes] = [
            founders(&s.ada, &s.room, &s.adas, "a marsh in the north"),
            founders(&s.zoe, &s.other_room, &s.zoes, "a ditch in the south"),
        ];
        s.wait(WAITED);
        (Self { s }, adas, zoes)
    }

    /// The keeper, the room and the device.
    pub fn of(&self, of: Of) -> (&Person, &str, &Pen) {
        match of {
            Of::Ada => (&self.s.ada, &self.s.room, &self.s.adas),
            Of::Zoe => (&self.s.zoe, &self.s.other_room, &self.s.zoes),
        }
    }

    /// Writes something that must be taken.
    #[track_caller]
    pub fn write(&self, of: Of, body: Value) -> Value {
        let (keeper, room, pen) = self.of(of);
        let op = pen.op(body);
        taken(keeper, room, std::slice::from_ref(&op));
        op
    }

    /// Writes something, and answers what became of it.
    pub fn tried(&self, of: Of, body: Value) -> Value {
        let (keeper, room, pen) = self.of(of);
        let path = format!("/api/v1/streams/{room}/ops");
        keeper.caller.post(&path, &push(&[pen.op(body)])).expect(200).json()["results"][0].clone()
    }

    /// Young of a stock are found, some weeks ago so that they may leave.
    pub fn young(&self, of: Of, code: &str, parents: &Fish) -> Fish {
        let young = Fish { stock: id(), node: id() };
        let (keeper, room, pen) = self.of(of);
        let body = json!({"op": "young.found", "brood": young.node, "stock": young.stock, "code": code,
            "name": {"species": "Poecilia wingei", "line": "Marsh"},
            "sires": side(parents), "dams": side(parents),
            "rows": [{"node": young.node, "sex": "unsexed", "n": 20}]});
        let mut op = pen.op(body);
        op["at"] = days_ago(41).into();
        taken(keeper, room, &[op]);
        young
    }

    /// So many days go by.
    pub fn wait(&mut self, days: i64) {
        self.s.wait(days);
    }

    /// Fish are packed for the other keeper and handed over; the parcel.
    pub fn handed(&self, from: Of, fish: &Fish, n: u32) -> String {
        let to = from.other();
        let parcel = id();
        let login = if to == Of::Ada { "ada" } else { "zoe" };
        self.write(
            from,
            json!({"op": "parcel.packed", "parcel": parcel, "to": login,
            "rows": [{"stock": fish.stock, "node": fish.node, "sex": "unsexed", "n": n}]}),
        );
        self.write(from, json!({"op": "parcel.handed", "parcel": parcel}));
        parcel
    }

    /// They go to the other room and arrive there; the parcel, and the stock that they are there.
    pub fn sent(&self, from: Of, fish: &Fish, n: u32) -> (String, Fish) {
        let (parcel, to) = (self.handed(from, fish, n), from.other());
        let came = Fish { stock: id(), node: fish.node.clone() };
        let place = tank("Q");
        self.write(to, place.clone());
        self.write(
            to,
            json!({"op": "parcel.arrived", "parcel": parcel, "stock": came.stock, "tank": place["tank"],
            "alive": [{"node": came.node, "sex": "unsexed", "n": n}]}),
        );
        (parcel, came)
    }

    /// Does the work that is queued until it shows.
    #[track_caller]
    pub fn until<T>(&self, mut shows: impl FnMut() -> Option<T>) -> T {
        for _ in 0..60 {
            self.s.server.command(&["mail", "send"]).expect(0);
            if let Some(shown) = shows() {
                return shown;
            }
        }
        panic!("it does not show: {}", self.s.server.logged());
    }

    /// All ops of a room, as they are pulled.
    pub fn pulled(&self, of: Of) -> Vec<Value> {
        let (keeper, room, _) = self.of(of);
        let epoch = self.s.epoch(keeper, room);
        let path = format!("/api/v1/streams/{room}/ops?epoch={epoch}&after=0&limit=10000");
        let all = keeper.caller.get(&path).expect(200).json();
        all["ops"].as_array().into_iter().flatten().map(|told| told["op"].clone()).collect()
    }

    /// The bodies of all ops of a kind in a room.
    pub fn ops(&self, of: Of, kind: &str) -> Vec<Value> {
        self.pulled(of).into_iter().map(|op| op["body"].clone()).filter(|body| body["op"] == kind).collect()
    }

    /// What the server reads of a brood for a keeper.
    pub fn brood(&self, of: Of, brood: &str) -> Value {
        let (keeper, ..) = self.of(of);
        keeper.caller.get(&format!("/api/v1/broods/{brood}")).expect(200).json()
    }
}

/// One side of parents: one fish of a stock.
pub fn side(parents: &Fish) -> Value {
    json!({"of": [{"stock": parents.stock, "node": parents.node, "n": 1}], "draw": "one"})
}

fn days_ago(days: i64) -> String {
    let at = now_ms() + (WAITED - days) * 86_400_000;
    format!("{}Z", &clock(at)[..19])
}

fn founders(keeper: &Person, room: &str, pen: &Pen, place: &str) -> Fish {
    let fish = Fish { stock: id(), node: id() };
    let tank = tank("A1");
    let made = json!({"op": "stock.established", "stock": fish.stock, "tank": tank["tank"], "species": "Poecilia wingei",
        "founders": {"node": fish.node, "origin": "wild", "related": "not_known", "locality": place,
            "collected": "2019-05"},
        "rows": [{"node": fish.node, "sex": "male", "n": 3}, {"node": fish.node, "sex": "female", "n": 4}]});
    taken(keeper, room, &[pen.op(tank), pen.op(made)]);
    fish
}
