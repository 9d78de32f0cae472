//! A room that is written day by day, on a server whose clock goes on.

use serde_json::{Value, json};
use tarn_tests::api::Caller;
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;
use tarn_tests::pen::{id, now_ms};
use tarn_tests::site::Visitor;
use tarn_tests::society::{Society, taken};

const DAY: i64 = 86_400_000;

/// Ada's room under the club, of which Sten and Stella are health stewards. Q1 and Q2 share Loop B.
pub struct Story {
    /// The server, and who is on it.
    pub society: Society,
    began: i64,
    /// On Loop B.
    pub q1: String,
    /// On Loop B, too.
    pub q2: String,
    /// Stands alone.
    pub a1: String,
    /// Stands alone.
    pub a2: String,
    /// Shared by Q1 and Q2.
    pub loop_b: String,
    /// Came on the first day.
    pub held: String,
}

impl Story {
    /// The tanks: Q1 and Q2 on Loop B, A1 and A2 on waters of their own. No fish yet, no club.
    pub fn room(engine: Engine) -> Self {
        let society = Society::new(engine);
        for steward in ["sten", "stella"] {
            society.club.member(steward, Some("health_steward"));
        }
        let [q1, q2, a1, a2, loop_b, held] = std::array::from_fn(|_| id());
        let story = Self { society, began: now_ms(), q1, q2, a1, a2, loop_b, held };
        let tank = |tank: &str, name: &str| (0, json!({"op": "tank.added", "tank": tank, "name": name}));
        let plumbed = |tank: &str| (0, json!({"op": "tank.plumbed", "tank": tank, "system": story.loop_b}));
        story.write(&[
            (0, json!({"op": "water.system_set", "system": story.loop_b, "name": "Loop B", "net_ml": 120_000})),
            tank(&story.q1, "Q1"),
            tank(&story.q2, "Q2"),
            tank(&story.a1, "A1"),
            tank(&story.a2, "A2"),
            plumbed(&story.q1),
            plumbed(&story.q2),
        ]);
        story
    }

    /// Ada names her club, whose rule holds from then on.
    pub fn home_club(&self, club: &str) {
        let path = format!("/api/v1/rooms/{}/home-club", self.society.room);
        self.society.ada.caller.put(&path, &json!({"club": club})).expect(200);
    }

    /// The first day, under the club: six fish into Q1.
    pub fn begun(engine: Engine) -> Self {
        let story = Self::room(engine);
        story.home_club(&story.society.club.id);
        story.write(&[
            (0, came(&story.held, Some(&story.q1), "from the ford", 6)),
            (0, established(&id(), &story.a1)),
        ]);
        story
    }

    /// Thirty-two days later: more fish on day 8, a treatment from day 12 to 16, a sign on day 21, then no look until day
    /// 30, and on day 31 a loss of day 27 is written down.
    pub fn told(engine: Engine) -> Self {
        let mut story = Self::begun(engine);
        let treatment = id();
        let (q1, q2, held) = (story.q1.clone(), story.q2.clone(), story.held.clone());
        for (day, body) in [
            (3, story.look()),
            (6, story.look()),
            (8, came(&id(), Some(&q2), "from the hill", 4)),
            (10, story.look()),
            (
                12,
                json!({"op": "treatment.began", "treatment": treatment, "system": story.loop_b, "with": "salt",
                "what": "salt, by the label"}),
            ),
            (15, story.look()),
            (16, json!({"op": "treatment.ended", "treatment": treatment})),
            (19, story.look()),
            (21, json!({"op": "sign.seen", "stock": held, "sign": "white spots on one fish"})),
            (30, json!({"op": "look.done", "tanks": [q1, q2]})),
        ] {
            story.day(day);
            story.write(&[(day, body)]);
        }
        story.day(31);
        let node = story.node(&held);
        story.write(&[(
            27,
            json!({"op": "stock.lost", "stock": held, "cause": "jumped",
            "rows": [{"node": node, "sex": "unsexed", "n": 1}]}),
        )]);
        story.day(32);
        story
    }

    pub fn look(&self) -> Value {
        json!({"op": "look.done", "tanks": [self.q1, self.q2]})
    }

    /// The clock of the server goes on to a day.
    pub fn day(&mut self, day: i64) {
        self.society.server.stop();
        self.society.server.set_clock(&format!("{day}d"));
        self.society.server.start_again();
        let again = Caller::stranger(&self.society.server);
        self.society.ada = self.society.ada.sign_in(&again);
    }

    /// The clock goes on day by day, and she looks at all in quarantine.
    pub fn looks_on(&mut self, days: &[i64]) {
        for day in days {
            self.day(*day);
            self.write(&[(*day, self.look())]);
        }
    }

    /// Ada writes on these days; the entries' ids.
    pub fn write(&self, ops: &[(i64, Value)]) -> Vec<String> {
        let pen = &self.society.adas;
        let ops: Vec<Value> =
            ops.iter().map(|(day, body)| pen.op_at(self.began + day * DAY, body.clone())).collect();
        taken(&self.society.ada, &self.society.room, &ops);
        ops.iter().filter_map(|op| op["id"].as_str().map(str::to_owned)).collect()
    }

    /// So many of the fish that came first.
    pub fn rows(&self, n: u32) -> Value {
        json!([{"node": self.node(&self.held), "sex": "unsexed", "n": n}])
    }

    fn node(&self, stock: &str) -> Value {
        let room = &self.society.room;
        let epoch = self.society.epoch(&self.society.ada, room);
        let ops = self.society.ada.caller.get(&format!("/api/v1/streams/{room}/ops?epoch={epoch}&after=0"));
        let ops = ops.expect(200).json();
        let mut ops = ops["ops"].as_array().into_iter().flatten().map(|op| &op["op"]["body"]);
        let made = ops.find(|body| body["stock"] == stock && body["rows"].is_array());
        made.map(|body| body["rows"][0]["node"].clone()).unwrap_or_default()
    }

    pub fn url(&self, path: &str) -> String {
        self.society.server.url(path)
    }

    pub fn visitor(&self, login: &str) -> Visitor {
        let visitor = Visitor::at(&self.url(""));
        visitor.sign_in(login).expect("they sign in");
        visitor
    }

    /// The page of the one unit that is held.
    pub fn unit(&self) -> String {
        let room = &self.society.room;
        let units =
            self.society.ada.caller.get(&format!("/api/v1/quarantine/units?room={room}")).expect(200).json();
        let unit = units["rooms"][0]["units"][0]["unit"].as_str();
        format!("/units/{room}/{}", unit.unwrap_or_else(|| panic!("no unit in {units}")))
    }

    pub fn browse(&self, screen: Screen, login: &str) -> Browser {
        let browser = Browser::start(screen);
        browser.sign_in(&self.url(""), login);
        browser
    }
}

/// So many fish came from a shop; without a tank they are still in the bag.
pub fn came(stock: &str, tank: Option<&str>, name: &str, n: u32) -> Value {
    let node = id();
    let mut came = json!({"op": "stock.came_in", "stock": stock, "name": name, "from": "shop",
        "source": "Aquarium by the ford", "species": "Xenotoca eiseni",
        "founders": {"node": node, "origin": "bought", "related": "not_known"},
        "rows": [{"node": node, "sex": "unsexed", "n": n}]});
    if let Some(tank) = tank {
        came["tank"] = tank.into();
    }
    came
}

/// Fish that were here before the records.
pub fn established(stock: &str, tank: &str) -> Value {
    let node = id();
    json!({"op": "stock.established", "stock": stock, "tank": tank, "name": "line Campo", "species": "Poecilia wingei",
        "founders": {"node": node, "origin": "bought", "related": "not_known"},
        "rows": [{"node": node, "sex": "unsexed", "n": 9}]})
}
