//! The figures about a server, read by another program: there only when wanted, whole, and moving as they should.

use prometheus_parse::{Sample, Scrape, Value};
use reqwest::Method;
use serde_json::json;
use std::io;
use tarn_tests::api::{Caller, send};
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{push, tank};
use tarn_tests::server::Server;
use tarn_tests::society::{Society, taken};

/// Figures at one moment.
struct Figures(Scrape);

impl Figures {
    fn of(server: &Server) -> Self {
        let base = &server.metrics();
        let answer = Caller::at(base).get("/metrics").expect(200);
        assert_eq!(answer.content_type, "text/plain", "{answer}");
        Caller::at(base).get("/").expect(404);
        // another path of the same kind: this listener has no API that a document could tell of
        Caller::at(base).get("/account").expect(404);
        let lines = answer.text.lines().map(|line| io::Result::Ok(line.to_owned()));
        Self(Scrape::parse(lines).expect("another program reads it"))
    }

    fn sample(&self, name: &str, labels: &[(&str, &str)]) -> Option<&Sample> {
        let fits = |sample: &&Sample| {
            sample.metric == name
                && labels.iter().all(|(label, value)| sample.labels.get(label) == Some(*value))
        };
        self.0.samples.iter().find(fits)
    }

    /// Nought if it was never counted.
    fn number(&self, name: &str, labels: &[(&str, &str)]) -> f64 {
        match self.sample(name, labels).map(|sample| &sample.value) {
            None => 0.0,
            Some(Value::Counter(n) | Value::Gauge(n) | Value::Untyped(n)) => *n,
            Some(other) => panic!("{name} is {other:?}"),
        }
    }

    fn requests(&self, method: &str, route: &str, status: &str) -> f64 {
        let labels = [("method", method), ("route", route), ("status", status)];
        self.number("tarn_http_request_seconds_count", &labels)
    }
}

/// A society on a server whose metrics are read.
fn watched(engine: Engine) -> Society {
    let mut server = Server::prepare(Database::new(engine));
    server.set("TARN_METRICS_LISTEN", "127.0.0.1:0");
    server.start_again();
    Society::on(server)
}

on_both_engines! {
    fn figures_move_as_they_should(engine) {
        let s = watched(engine);
        let ops = format!("/api/v1/streams/{}/ops", s.room);
        taken(&s.ada, &s.room, &[s.adas.op(tank("A1"))]);
        let before = Figures::of(&s.server);
        taken(&s.ada, &s.room, &[s.adas.op(tank("A2")), s.adas.op(tank("A3"))]);
        let mut foreign = s.bens.op(tank("A4"));
        foreign["device"] = json!(s.adas.device);
        let no = s.ben.caller.post(&ops, &push(&[foreign])).expect(200).json();
        let code = no["results"][0]["problem"]["type"].as_str().unwrap_or_else(|| panic!("not refused: {no}"));
        let code = code.trim_start_matches("/problems/");
        s.ada.caller.get("/api/v1/account").expect(200);
        s.stranger().get("/api/v1/account").expect(401);
        s.stranger().get("/ada/nowhere").expect(404);
        send(s.stranger().request(Method::from_bytes(b"BREW").expect("a method"), "/ada/nowhere"));
        let after = Figures::of(&s.server);
        for (more, method, route, status) in [
            (1.0, "GET", "/api/v1/account", "2xx"),
            (1.0, "GET", "/api/v1/account", "4xx"),
            (2.0, "POST", "/api/v1/streams/:stream/ops", "2xx"),
            (1.0, "GET", "none", "4xx"),
            (1.0, "other", "none", "4xx"),
            (0.0, "GET", "/api/v1/clubs/:club", "2xx"),
        ] {
            let moved = after.requests(method, route, status) - before.requests(method, route, status);
            assert_eq!(moved, more, "{method} {route} {status}");
        }
        let moved = |name: &str, labels: &[(&str, &str)]| after.number(name, labels) - before.number(name, labels);
        assert_eq!(moved("tarn_ops_accepted_total", &[("way", "push")]), 2.0);
        assert_eq!(moved("tarn_ops_refused_total", &[("way", "push"), ("problem", code)]), 1.0);
        assert_eq!(moved("tarn_append_seconds_count", &[]), 2.0);
        assert_eq!(moved("tarn_append_wait_seconds_count", &[("way", "push")]), 2.0);
        let steps = after.sample("tarn_append_seconds", &[]).map(|sample| &sample.value);
        assert!(matches!(steps, Some(Value::Histogram(steps)) if steps.len() > 5), "{steps:?}");
        assert!(after.number("tarn_state_cache_rooms", &[]) >= 1.0);
        assert!(after.number("tarn_state_cache_bytes", &[]) > 0.0);
        assert!(after.number("process_start_time_seconds", &[]) > 1_700_000_000.0);
        assert_eq!(after.number("tarn_database_answers", &[]), 1.0);
        assert_eq!(after.number("tarn_build_info", &[]), 1.0);
    }

    fn what_waits_is_counted(engine) {
        let s = watched(engine);
        let ready = || s.stranger().get("/readyz").expect(200).json();
        assert_eq!(Figures::of(&s.server).number("tarn_streams_to_rebuild", &[]), 0.0);
        assert_eq!(ready(), json!({"status": "ready", "streams_to_rebuild": 0}));
        let random = match engine {
            Engine::Sqlite => "randomblob(16)",
            Engine::Postgres => "gen_random_uuid()",
        };
        let letter = |given_up: &str| {
            format!("INSERT INTO mail_outbox (id, recipient, subject, body, made_ms, next_ms, tries, given_up_ms) \
                VALUES ({random}, '', '', '', 0, 0, 0, {given_up})")
        };
        // nobody does a job of this kind, so that it stays
        let job = format!("INSERT INTO jobs (id, kind, payload, not_before_ms, tries, made_ms) VALUES ({random}, 'none', '', 1000, 2, 0)");
        s.server.database().execute(&["UPDATE streams SET fold_version = 0", &letter("NULL"), &letter("NULL"), &letter("1"), &job]);
        let figures = Figures::of(&s.server);
        for (name, value) in [("tarn_streams_to_rebuild", 2.0), ("tarn_mail_waiting", 2.0), ("tarn_mail_given_up", 1.0), ("tarn_jobs_failed", 1.0)] {
            assert_eq!(figures.number(name, &[]), value, "{name}");
        }
        assert!(figures.number("tarn_jobs_due", &[]) >= 1.0);
        assert!(figures.number("tarn_jobs_oldest_due_seconds", &[]) > 1_700_000_000.0);
        assert_eq!(ready()["streams_to_rebuild"], 2);
        s.server.command(&["check", "--rebuild"]).expect(0);
        assert_eq!(ready()["streams_to_rebuild"], 0);
    }

    /// Labels are words of the program.
    fn no_label_tells_of_anybody(engine) {
        let s = watched(engine);
        s.ada.caller.get(&format!("/api/v1/rooms/{}", s.room));
        s.stranger().get("/calendar/nine-kettles").expect(404);
        s.stranger().get(&format!("/rooms/{}/ada@example.org", s.room)).expect(404);
        let figures = Figures::of(&s.server);
        let mut seen = 0;
        for sample in &figures.0.samples {
            for (label, value) in sample.labels.iter() {
                seen += 1;
                let told = [s.room.as_str(), &s.ada.account, &s.club.id, "ada", "wilma", "kettles", "@"];
                let told = told.iter().find(|secret| value.contains(**secret));
                assert!(told.is_none(), "{} has {label}={value}", sample.metric);
            }
        }
        assert!(seen > 20, "{seen} labels");
    }
}

#[test]
fn nothing_is_told_unless_it_is_wanted() {
    let server = Server::start(Engine::Sqlite);
    assert!(!server.logged().contains("metrics at"), "{}", server.logged());
    Caller::stranger(&server).get("/metrics").problem(404, "not-found");
}

#[test]
fn a_server_is_asked_whether_it_is_ready() {
    let mut server = Server::start(Engine::Sqlite);
    let address = server.address().to_owned();
    let said = server.command(&["ready", "--listen", &address]).expect(0);
    assert_eq!(said.json()["status"], "ready", "{said}");
    server.set("TARN_LISTEN", &address);
    server.command(&["ready"]).expect(0);
    server.kill();
    let said = server.command(&["ready"]).expect(1);
    assert!(said.stderr.contains(&address), "{said}");
}

/// A line a request, with the id that its answer carries and nothing of who asked for what.
#[test]
fn the_log_tells_requests_by_id_and_of_nobody() {
    let mut server = Server::prepare(Database::new(Engine::Sqlite));
    server.set("TARN_LOG", "info");
    server.set("TARN_LOG_FORMAT", "json");
    server.start_again();
    let s = Society::on(server);
    let path = format!("/api/v1/rooms/{}/keepers/zoe", s.room);
    let answer = s.ada.caller.put(&path, &json!({})).expect(204);
    let id = answer.headers.get("x-request-id").and_then(|id| id.to_str().ok()).expect("an id").to_owned();
    s.stranger().get("/invitation?token=nine-kettles-by-the-door");
    let logged = s.server.logged();
    let lines = logged.lines().filter(|line| line.starts_with('{'));
    let lines: Vec<serde_json::Value> = lines.map(|line| serde_json::from_str(line).expect("JSON")).collect();
    let told =
        lines.iter().find(|line| line["span"]["id"] == id.as_str()).unwrap_or_else(|| panic!("{logged}"));
    assert_eq!(told["fields"]["route"], "/api/v1/rooms/{room}/keepers/{login}", "{told}");
    assert_eq!(
        (&told["fields"]["method"], &told["fields"]["status"]),
        (&json!("PUT"), &json!(204)),
        "{told}"
    );
    let secrets = ["zoe", "wilma", "@example.org", "kettles", s.room.as_str(), &s.ada.account, &s.club.id];
    for secret in secrets {
        assert!(!logged.contains(secret), "{secret} is in the log:\n{logged}");
    }
}
