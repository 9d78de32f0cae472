//! The password changed, one session a browser, a device ended, and what every answer carries.

use super::{FACTOR, set_up};
use reqwest::Method;
use serde_json::json;
use tarn_tests::api::{Caller, send};
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;
use tarn_tests::keeper::Keeper;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{push, tank};
use tarn_tests::people::{Club, PASSWORD, Person};
use tarn_tests::server::Server;
use tarn_tests::site::Visitor;
use tarn_tests::society::{Society, register, taken};

use crate::pages::{assert_says, look_at};

const OTHER: &str = "seven buckets behind the shed";

fn change(who: &Person, old: &str, new: &str, code: Option<&str>) -> tarn_tests::api::Answer {
    let mut body = json!({"old_password": old, "new_password": new});
    if let Some(code) = code {
        body["code"] = code.into();
    }
    who.caller.put("/api/v1/account/password", &body)
}

fn sessions(who: &Person) -> usize {
    who.caller.get("/api/v1/sessions").expect(200).json().as_array().map_or(0, Vec::len)
}

on_both_engines! {
    fn a_new_password_asks_for_the_old_one_and_a_code(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let (mira, at) = (club.member("mira", None), Caller::stranger(&server));
        change(&mira, "not this one at all", OTHER, None).problem(401, "sign-in-failed");
        change(&mira, PASSWORD, "fourteen signs", None).problem(422, "password-weak");
        let elsewhere = mira.sign_in(&at);
        change(&mira, PASSWORD, OTHER, None).expect(204);
        elsewhere.caller.get("/api/v1/account/data").problem(401, "session-ended");
        assert_eq!(sessions(&mira), 1);
        change(&mira, OTHER, PASSWORD, None).expect(204);
        let (_, codes) = set_up(&mira);
        change(&mira, PASSWORD, OTHER, None).problem(401, "second-factor-needed");
        change(&mira, PASSWORD, OTHER, Some(" ")).problem(401, "second-factor-needed");
        let no = change(&mira, PASSWORD, OTHER, Some("AAAA-AAAA-AAAA-AAAA")).problem(422, "code-wrong");
        assert_eq!(no["errors"][0]["pointer"], "/code");
        change(&mira, PASSWORD, OTHER, Some(&codes[0])).expect(204);
        change(&mira, OTHER, PASSWORD, Some(&codes[0])).problem(422, "code-wrong");
        assert_eq!(mira.caller.get(FACTOR).expect(200).json()["recovery_codes_left"], 9, "once");
    }

    fn a_browser_has_one_session_and_one_that_ended_is_no_obstacle(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let mira = club.member("mira", None);
        let (visitor, stranger) = (Visitor::at(&server.url("")), Visitor::at(&server.url("")));
        let open = stranger.get("/sign-in").expect("a page").form(|form| form.action == "/sign-in");
        let open = open.expect("a form").with("login_name", "mira").with("password", PASSWORD);
        for _ in 0..3 {
            // a form that was open in another tab
            assert!(!visitor.post(&open).expect("a page").is_sign_in());
            assert_eq!(sessions(&mira), 2, "the one of before has ended");
        }
        let replaced = "SELECT count(*) FROM audit_facts WHERE fact LIKE 'session % ended: another was opened in its browser'";
        assert_eq!(server.database().count(replaced), 2);
        mira.caller.delete("/api/v1/sessions/others").expect(204);
        assert!(visitor.get("/account").expect("a page").is_sign_in());
        assert!(!visitor.sign_in("mira").expect("a page").is_sign_in(), "the old cookie is no obstacle");
        assert_eq!(sessions(&mira), 2);
        // from another site it is refused all the same
        let fields = [("login_name", "mira"), ("password", PASSWORD)];
        let foreign = Caller::stranger(&server).request(Method::POST, "/sign-in").header("origin", "https://other.example");
        send(foreign.form(&fields)).problem(403, "foreign-form");
    }

    fn every_answer_says_what_it_is_and_is_not_kept(engine) {
        let s = Society::new(engine);
        let header = |caller: &Caller, path: &str, name: &str| {
            let answer = caller.get(path);
            answer.headers.get(name).and_then(|v| v.to_str().ok()).unwrap_or_default().to_owned()
        };
        let stranger = s.stranger();
        let room = format!("/api/v1/rooms/{}", s.room);
        let own = ["/api/v1/account", "/api/v1/messages", "/api/v1/streams", room.as_str(), "/api/v1/nothing-here"];
        for path in own {
            assert_eq!(header(&s.ada.caller, path, "cache-control"), "no-store", "{path}");
            assert_eq!(header(&stranger, path, "cache-control"), "no-store", "{path}");
        }
        let page = send(stranger.request(Method::GET, "/nothing-here").header("accept", "text/html"));
        assert_eq!((page.status, page.headers["cache-control"].to_str().ok()), (404, Some("no-store")));
        for (path, kept, kind) in [
            ("/assets/icon.svg", "public", "image/svg+xml; charset=utf-8"),
            ("/assets/tarn.css", "public", "text/css; charset=utf-8"),
            ("/.well-known/jwks.json", "public", "application/json"),
            ("/docs/index.html", "public", "text/html; charset=utf-8"),
        ] {
            assert!(header(&stranger, path, "cache-control").starts_with(kept), "{path}");
            assert_eq!(header(&stranger, path, "content-type"), kind, "{path}");
        }
    }

    fn a_device_that_was_ended_writes_no_more_until_somebody_signs_in_on_it(engine) {
        let s = Society::new(engine);
        let phone = Keeper::new("phone");
        phone.log_in(&s.server.url(""), "ada");
        phone.done(&["room", "use", "Cellar"]);
        phone.done(&["tank", "add", "A1"]);
        phone.done(&["sync"]);
        let devices = || s.ada.caller.get("/api/v1/devices").expect(200).json();
        let all = devices();
        let one = all.as_array().into_iter().flatten().find(|one| one["name"] == "tarn");
        let one = one.unwrap_or_else(|| panic!("not listed: {all}"));
        assert_eq!((&one["stream"], &one["stream_name"], &one["current"]), (&json!(s.room), &json!("Cellar"), &json!(false)));
        let path = format!("/api/v1/streams/{}/devices/{}", s.room, one["device"].as_str().unwrap_or_default());
        s.ben.caller.delete(&path).problem(404, "not-found");
        let before = sessions(&s.ada);
        for _ in 0..2 {
            s.ada.caller.delete(&path).expect(204);
        }
        assert_eq!(sessions(&s.ada), before - 1, "the session that it came in has ended");
        assert_eq!(devices().as_array().map(Vec::len), all.as_array().map(|all| all.len() - 1));

        // what is written there stays there, and is sent once somebody signs in on it anew
        phone.done(&["tank", "add", "A2"]);
        let told = phone.run(&["sync"]).expect(4);
        assert!(told.stderr.contains("This device was ended"), "{}", told.stderr);
        let there = |name: &str| s.ada.caller.get(&format!("/api/v1/streams/{}/state", s.room)).expect(200).text.contains(name);
        assert!(there("\"A1\"") && !there("\"A2\""));
        phone.log_in(&s.server.url(""), "ada");
        assert!(there("\"A2\""));

        // an access token that still lives writes no more either
        let pen = &s.adas;
        taken(&s.ada, &s.room, &[pen.op(tank("B1"))]);
        let other = s.ada.sign_in(&s.stranger());
        let own = format!("/api/v1/streams/{}/devices/{}", s.room, pen.device);
        other.caller.delete(&own).expect(204);
        let ops = format!("/api/v1/streams/{}/ops", s.room);
        s.ada.caller.post(&ops, &push(&[pen.op(tank("B2"))])).problem(403, "device-ended");
        register(&s.ada, &s.room, pen).problem(403, "device-ended");
        let again = s.ada.sign_in(&s.stranger());
        register(&again, &s.room, pen).expect(200);
        taken(&again, &s.room, &[pen.op(tank("B3"))]);
    }
}

#[test]
fn a_password_is_changed_and_a_device_ended_on_pages() {
    let s = Society::new(Engine::Sqlite);
    for (screen, login) in [(Screen::Phone, "ada"), (Screen::Desk, "ben")] {
        let browser = Browser::start(screen);
        browser.sign_in(&s.server.url(""), login);
        browser.visit(&s.server.url("/account"));
        browser.follow("form[action='/account/devices/end'] button");
        assert_says(&browser.text("main"), &["The device has ended, and the session that it came in."]);
        assert_eq!(browser.count("#devices"), 0);
        browser.follow("#access .go");
        look_at(&browser, &format!("password-{login}"));
        browser.fill("#old_password", PASSWORD);
        browser.fill("#new_password", "short");
        browser.follow("main form button");
        assert_says(&browser.text(".errors"), &["Not changed. A password has at least 15 signs."]);
        look_at(&browser, &format!("password-wrong-{login}"));
        browser.fill("#old_password", PASSWORD);
        browser.fill("#new_password", OTHER);
        browser.follow("main form button");
        assert_says(&browser.text(".said"), &["Your password is changed. All other sessions have ended."]);
    }
    let facts = "SELECT count(*) FROM audit_facts WHERE fact LIKE 'password of account % changed'";
    assert_eq!(s.server.database().count(facts), 2);
}
