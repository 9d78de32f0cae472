//! Spawnings over the wire and on the pages of a room.

use serde_json::{Value, json};
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{clock, id, now_ms, push};
use tarn_tests::society::{Society, taken};

use crate::pages::{assert_says, look_at};

const DAY: i64 = 86_400_000;

/// Ada's room with a colony that spawns, a pair of which nothing was seen, and the eggs of two days.
struct Breeding {
    society: Society,
    colony: String,
    eggs: String,
    brood: String,
    spawning: String,
}

impl Breeding {
    fn new(engine: Engine) -> Self {
        let society = Society::new(engine);
        let pen = &society.adas;
        let dated = |days: i64, body: Value| {
            let mut op = pen.op(body);
            op["at"] = format!("{}Z", &clock(now_ms() - (days * DAY).max(60_000))[..19]).into();
            op
        };
        let [colony, pair, eggs, more, brood, spawning, set_up, n1, n2, of_colony, of_pair] =
            [(); 11].map(|()| id());
        let stock = |stock: &str, node: &str, tank: &str, species: &str, [males, females]: [u32; 2]| {
            json!({"op": "stock.established", "stock": stock, "tank": tank, "species": species,
                "founders": {"node": node, "origin": "bought", "related": "not_known"},
                "rows": [{"node": node, "sex": "male", "n": males}, {"node": node, "sex": "female", "n": females}]})
        };
        let side = |stock: &str, node: &str, n: u32| json!({"of": [{"stock": stock, "node": node, "n": n}], "draw": "many"});
        let picked = |days: i64, stock: &str, n: u32| {
            let day = format!("{}Z", &clock(now_ms() - days * DAY - 60_000)[..19]);
            json!({"op": "eggs.collected", "spawning": spawning, "brood": brood, "stock": stock, "n": n,
                "window": {"from": day, "to": day}, "species": "Pseudomugil gertrudae"})
        };
        let mut first = picked(3, &eggs, 18);
        first["new"] = json!({"code": "PG-1", "name": {"species": "Pseudomugil gertrudae"},
            "sires": side(&colony, &of_colony, 4), "dams": side(&colony, &of_colony, 6)});
        let ops = [
            dated(60, json!({"op": "tank.added", "tank": n1, "name": "N1"})),
            dated(60, json!({"op": "tank.added", "tank": n2, "name": "N2"})),
            dated(50, stock(&colony, &of_colony, &n1, "Pseudomugil gertrudae", [4, 6])),
            dated(50, stock(&pair, &of_pair, &n2, "Apistogramma cacatuoides", [1, 1])),
            dated(
                20,
                json!({"op": "pair.set_up", "spawning": set_up, "tank": n2,
                "sires": side(&pair, &of_pair, 1), "dams": side(&pair, &of_pair, 1)}),
            ),
            dated(
                3,
                json!({"op": "spawn.seen", "spawning": spawning, "tank": n1,
                "sires": side(&colony, &of_colony, 4), "dams": side(&colony, &of_colony, 6)}),
            ),
            dated(3, first),
            dated(2, picked(2, &more, 11)),
        ];
        taken(&society.ada, &society.room, &ops);
        Self { society, colony, eggs, brood, spawning }
    }

    fn signed_in(&self, screen: Screen) -> Browser {
        let browser = Browser::start(screen);
        browser.sign_in(&self.society.server.url(""), "ada");
        browser
    }

    fn pushed(&self, body: Value) -> Value {
        let Society { ada, room, adas, .. } = &self.society;
        let path = format!("/api/v1/streams/{room}/ops");
        ada.caller.post(&path, &push(&[adas.op(body)])).expect(200).json()["results"][0].clone()
    }
}

on_both_engines! {
    fn a_step_waits_for_what_it_names_and_for_nothing_else(engine) {
        let b = Breeding::new(engine);
        // A spawning that nobody told of before: any step may be the first.
        let first = b.pushed(json!({"op": "spawning.failed", "spawning": id(), "why": "eaten"}));
        assert!(first["seq"].is_u64(), "{first}");
        // Eggs of a brood that is not here, a hatch of a stock that is not here, parents that are not here.
        let window = json!({"from": "2026-01-01T00:00:00Z", "to": "2026-01-01T00:00:00Z"});
        let parents = json!({"of": [{"stock": id(), "node": "unassigned", "n": 1}], "draw": "one"});
        for lost in [
            json!({"op": "eggs.collected", "brood": id(), "stock": id(), "n": 4, "window": window}),
            json!({"op": "eggs.hatched", "stock": id(), "rows": [{"node": "unassigned", "n": 4}]}),
            json!({"op": "spawn.seen", "spawning": b.spawning, "sires": parents}),
        ] {
            let answer = b.pushed(lost);
            assert!(answer["problem"]["type"].as_str().is_some_and(|t| t.ends_with("missing-reference")), "{answer}");
        }
        let hatched = json!([{"node": b.brood, "n": 15}]);
        let seq = b.pushed(json!({"op": "eggs.hatched", "spawning": b.spawning, "stock": b.eggs, "rows": hatched}));
        assert!(seq["seq"].is_u64(), "{seq}");
        b.society.server.command(&["check"]).expect(0);
        let rows = b.society.server.database().count(
            "SELECT count(*) FROM room_stocks WHERE eggs = 3 AND unsexed = 15 AND total = 18");
        assert_eq!(rows, 1, "fifteen of eighteen hatched");
    }
}

#[test]
fn a_keeper_sees_what_is_under_way() {
    let b = Breeding::new(Engine::Sqlite);
    let browser = b.signed_in(Screen::Phone);
    browser.visit(&b.society.server.url(&format!("/rooms/{}", b.society.room)));
    assert_says(
        &browser.text("main"),
        &[
            "Spawnings under way 2",
            "Pseudomugil gertrudae, brood PG-1",
            "29 eggs",
            "Apistogramma cacatuoides",
            "set up, nothing seen yet",
        ],
    );
    look_at(&browser, "spawnings");
    let stock = |stock: &str| b.society.server.url(&format!("/rooms/{}/stocks/{stock}", b.society.room));
    browser.visit(&stock(&b.eggs));
    assert_says(&browser.text("main"), &["collected: 18 eggs, in no tank", "Brood PG-1", "Fathers: 4 of"]);
    assert!(!browser.text("main").contains("than the records said"), "only a count corrects");
    look_at(&browser, "eggs");
    b.pushed(json!({"op": "young.swam", "spawning": b.spawning}));
    browser.visit(&b.society.server.url(&format!("/rooms/{}", b.society.room)));
    assert_says(&browser.text("main"), &["Spawnings under way 1"]);
    let desk = b.signed_in(Screen::Desk);
    desk.visit(&b.society.server.url(&format!("/rooms/{}", b.society.room)));
    look_at(&desk, "spawnings-desk");
    desk.visit(&stock(&b.colony));
    assert_says(&desk.text("main"), &["4 m 6 f"]);
}
