//! Probes in a water: a token that writes the readings of one water and nothing else, thinned hour by hour.

use reqwest::Method;
use serde_json::{Value, json};
use tarn_tests::api::{Answer, send};
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;
use tarn_tests::keeper::Keeper;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{id, now_ms};
use tarn_tests::society::{Society, taken};

use crate::pages::{assert_says, look_at};

/// Ada's room with tanks on a loop, and a probe in the loop.
struct Probed {
    s: Society,
    system: String,
    probe: String,
    token: String,
}

impl Probed {
    fn new(engine: Engine) -> Self {
        let s = Society::new(engine);
        let (system, tank) = (id(), id());
        let ops = [
            json!({"op": "water.system_set", "system": system, "name": "Loop A", "net_ml": 240_000}),
            json!({"op": "tank.added", "tank": tank, "name": "A1"}),
            json!({"op": "tank.plumbed", "tank": tank, "system": system}),
        ];
        taken(&s.ada, &s.room, &ops.map(|op| s.adas.op(op)));
        let (probe, token) = made(&s, &system);
        Self { s, system, probe, token }
    }

    fn send(&self, readings: &Value) -> Answer {
        self.send_with(&self.token, readings)
    }

    fn send_with(&self, token: &str, readings: &Value) -> Answer {
        let request = self.s.stranger().request(Method::POST, "/api/v1/probe/readings");
        send(request.bearer_auth(token).json(&json!({"readings": readings})))
    }

    /// What probes wrote into the room.
    fn logged(&self) -> Vec<Value> {
        let (room, epoch) = (&self.s.room, self.s.epoch(&self.s.ada, &self.s.room));
        let pulled = self.s.ada.caller.get(&format!("/api/v1/streams/{room}/ops?epoch={epoch}&after=0"));
        let ops = pulled.expect(200).json()["ops"].as_array().cloned().unwrap_or_default();
        ops.into_iter().filter(|op| op["op"]["body"]["op"] == "water.logged").collect()
    }
}

fn made(s: &Society, system: &str) -> (String, String) {
    let wanted = json!({"name": "Rack thermometer", "system": system, "days": 365});
    let made = s.ada.caller.post(&format!("/api/v1/rooms/{}/probes", s.room), &wanted).expect(201).json();
    let text =
        |field: &str| made[field].as_str().unwrap_or_else(|| panic!("no {field} in {made}")).to_owned();
    (text("probe"), text("token"))
}

/// A time so many minutes after an hour began that many hours ago.
fn at(hours_ago: i64, minutes: i64) -> String {
    let hour = now_ms().div_euclid(3_600_000) - hours_ago;
    let ms = hour * 3_600_000 + minutes * 60_000;
    chrono::DateTime::from_timestamp_millis(ms)
        .expect("a time")
        .to_rfc3339_opts(chrono::SecondsFormat::Secs, true)
}

fn warm(hours_ago: i64, minutes: i64, value: &str) -> Value {
    json!({"at": at(hours_ago, minutes), "what": "temperature", "value": value})
}

on_both_engines! {
    fn an_hour_of_readings_is_one_entry(engine) {
        let p = Probed::new(engine);
        let ph = json!({"at": at(5, 30), "what": "ph", "value": "7.2"});
        // 77 °F is 25 °C, exactly (definition of the scales)
        let first = json!([warm(5, 10, "24.9 C"), warm(5, 20, "77 F"), warm(5, 30, "25.2 C"), ph, warm(5, 50, "26.1C"), warm(5, 59, "25.4 °C")]);
        assert_eq!(p.send(&first).expect(200).json(), json!({"counted": 6, "known": 0}));
        assert_eq!(p.send(&first).expect(200).json(), json!({"counted": 0, "known": 6}), "sent again it counts once");
        assert!(p.logged().is_empty(), "the hour may go on");
        // what comes next ends it, in whatever order it is sent
        let next = json!([warm(3, 20, "25.0 C"), warm(4, 1, "25.5 C")]);
        assert_eq!(p.send(&next).expect(200).json(), json!({"counted": 2, "known": 0}));
        let logged = p.logged();
        assert_eq!(logged.len(), 2, "{logged:?}");
        let body = &logged[0]["op"]["body"];
        assert_eq!((&body["system"], &body["over_s"]), (&json!(p.system), &json!(3600)));
        assert_eq!(body["values"], json!([
            {"what": "temperature", "n": 5, "least": 24_900, "mean": 25_320, "most": 26_100},
            {"what": "ph", "n": 1, "least": 7_200, "mean": 7_200, "most": 7_200},
        ]));
        assert_eq!((&logged[0]["op"]["at"], &logged[0]["by"]), (&json!(at(5, 0)), &json!(p.probe)));
        assert_eq!(logged[1]["op"]["body"]["values"][0]["mean"], 25_500);
        // the last hour is written by itself
        let third = (0..600).any(|n| {
            if n > 0 {
                std::thread::sleep(std::time::Duration::from_millis(100));
            }
            p.s.server.command(&["mail", "send"]);
            p.logged().len() == 3
        });
        assert!(third, "{:?}", p.logged());
        p.s.server.command(&["check"]).expect(0);

        // its keepers read it on the client, as a reading like others
        let ada = Keeper::new("probed");
        ada.log_in(&p.s.server.url(""), "ada");
        ada.done(&["sync"]);
        let list = ada.done(&["water", "list"]).stdout;
        assert_says(&list, &["Loop A", "25", "pH 7.2"]);
        assert_says(&ada.done(&["history"]).stdout, &["a probe: ", "24.9 to 26.1 in 5 readings"]);
    }

    fn a_probe_s_token_does_nothing_else(engine) {
        let p = Probed::new(engine);
        let with_it = p.s.stranger().with_token(&p.token);
        let room = format!("/api/v1/rooms/{}", p.s.room);
        for path in [&room, &format!("{room}/probes"), &"/api/v1/account".to_owned()] {
            with_it.get(path).problem(401, "not-signed-in");
        }
        let ada = p.s.ada.caller.clone();
        let session = send(ada.request(Method::POST, "/api/v1/probe/readings").json(&json!({"readings": []})));
        session.problem(401, "probe-over");
        p.send_with("AAAA", &json!([])).problem(401, "probe-over");
        // what is wrong is said by place, and nothing of the rest is taken
        let wrong = json!([warm(0, 0, "25 C"), {"what": "light", "value": "3 lx"}, {"what": "ph", "value": "15"}, warm(0, 0, "warm"),
            {"at": "yesterday", "what": "ph", "value": "7"}, {"at": "2001-01-01T00:00:00Z", "what": "ph", "value": "7"}]);
        let no = p.send(&wrong).problem(422, "invalid");
        let at: Vec<&str> = no["errors"].as_array().into_iter().flatten().filter_map(|e| e["pointer"].as_str()).collect();
        assert_eq!(at, ["/readings/1/what", "/readings/2/value", "/readings/3/value", "/readings/4/at"]);
        p.send(&json!([{"at": "2001-01-01T00:00:00Z", "what": "ph", "value": "7"}])).problem(422, "invalid");
        let many: Vec<Value> = (0..1_001).map(|_| json!({"what": "ph", "value": "7"})).collect();
        p.send(&json!(many)).problem(422, "invalid");
        assert_eq!(p.send(&json!([])).expect(200).json()["counted"], 0);
        // a client can't write in its name, and others of the room read no token
        let list = p.s.ben.caller.get(&format!("{room}/probes")).expect(200);
        assert!(!list.text.contains(&p.token) && list.json()["probes"][0]["name"] == "Rack thermometer", "{list}");
        p.s.zoe.caller.get(&format!("{room}/probes")).problem(404, "not-found");
        let wanted = json!({"name": "Other", "tank": id(), "days": 9_999});
        let no = p.s.ada.caller.post(&format!("{room}/probes"), &wanted).problem(422, "invalid");
        assert_eq!(no["errors"].as_array().map(Vec::len), Some(2), "{no}");
        // ended it is good no more; so are those of a keeper who is put out
        p.s.ben.caller.delete(&format!("{room}/probes/{}", p.probe)).expect(204);
        p.send(&json!([])).problem(401, "probe-over");
        let wanted = json!({"name": "Ben's", "system": p.system, "days": 3});
        let bens = p.s.ben.caller.post(&format!("{room}/probes"), &wanted).expect(201).json();
        let bens = bens["token"].as_str().expect("a token").to_owned();
        p.send_with(&bens, &json!([])).expect(200);
        p.s.ada.caller.delete(&format!("{room}/keepers/ben")).expect(204);
        p.send_with(&bens, &json!([])).problem(401, "probe-over");
        let log = p.s.server.logged();
        assert!(!log.contains(&bens) && !log.contains(&p.token), "the log has a token");
    }

    fn a_probe_is_held_up_where_it_floods(engine) {
        let p = Probed::new(engine);
        let database = p.s.server.database();
        let today = now_ms().div_euclid(86_400_000);
        database.execute(&[&format!("UPDATE room_probes SET day = {today}, n = 86399")]);
        p.send(&json!([warm(0, 0, "25 C"), warm(1, 0, "25 C")])).problem(429, "link-quota");
        assert!(p.logged().is_empty());
        p.send(&json!([warm(1, 0, "25 C")])).expect(200);
    }
}

#[test]
fn a_keeper_makes_a_probe_on_pages() {
    let p = Probed::new(Engine::Sqlite);
    let days = json!([
        warm(4, 0, "24.9 C"),
        warm(3, 0, "25.4 C"),
        warm(3, 10, "25.9 C"),
        warm(2, 0, "25.1 C"),
        warm(1, 0, "25.2 C")
    ]);
    p.send(&days).expect(200);
    for screen in [Screen::Phone, Screen::Desk] {
        let browser = Browser::start(screen);
        let name = |page: &str| format!("{page}-{screen:?}").to_lowercase();
        browser.sign_in(&p.s.server.url(""), "ada");
        browser.visit(&p.s.server.url(&format!("/rooms/{}/water/{}", p.s.room, p.system)));
        assert_says(&browser.text("main"), &["a probe, 25.4 to 25.9 in 2 readings"]);
        look_at(&browser, &name("water-probed"));
        browser.follow("a[href$='/probes']");
        assert_says(&browser.text("main"), &["In Loop A. Last heard"]);
        look_at(&browser, &name("probes"));
        browser.fill("#name", "");
        browser.follow("main form:not([action$='/end']) button");
        assert_says(&browser.text(".errors"), &["Not made."]);
        look_at(&browser, &name("probe-wrong"));
        browser.fill("#name", "pH probe");
        browser.click("#water");
        browser.follow("main form:not([action$='/end']) button");
        assert_says(&browser.text("main"), &["Copy it now into pH probe"]);
        look_at(&browser, &name("probe-added"));
        browser.follow("main a.go");
        browser.follow("form[action$='/end'] button");
        assert_says(&browser.text("main"), &["Ended"]);
    }
}
