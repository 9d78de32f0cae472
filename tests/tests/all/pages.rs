//! The pages of a room and of a steward's desk: in a real browser, on a phone and at a desk, light and dark; and as
//! plain forms on both engines.

use serde_json::{Value, json};
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{self, Pen, id};
use tarn_tests::site::{Form, Visitor};
use tarn_tests::society::{Society, taken};

const DAY: i64 = 86_400_000;

/// Ada's room with fish of her own, a unit whose days are done and one whose days run; and a steward of her club.
struct Fishroom {
    society: Society,
    /// Swim in A1.
    guppies: String,
    /// Came from a shop 31 days ago; in Q1.
    held: String,
}

/// An op of some time ago.
fn dated(pen: &Pen, ago_ms: i64, body: Value) -> Value {
    let mut op = pen.op(body);
    // never after the pen's own clock, which began before now
    let at = pen::clock(pen::now_ms() - ago_ms.max(60_000));
    op["at"] = format!("{}Z", &at[..19]).into();
    op
}

impl Fishroom {
    fn new(engine: Engine) -> Self {
        let society = Society::new(engine);
        society.club.member("sten", Some("health_steward"));
        let home = json!({"club": society.club.id});
        society.ada.caller.put(&format!("/api/v1/rooms/{}/home-club", society.room), &home).expect(200);
        let pen = &society.adas;
        let (loop_a, a1, a2, q1, q2) = (id(), id(), id(), id(), id());
        let (guppies, held, later) = (id(), id(), id());
        let founders = || json!({"node": id(), "origin": "bought", "related": "not_known"});
        let row = |founders: &Value, sex: &str, n: u32| json!({"node": founders["node"], "sex": sex, "n": n});
        let (of_guppies, of_held, of_later) = (founders(), founders(), founders());
        let tank = |tank: &str, name: &str| json!({"op": "tank.added", "tank": tank, "name": name});
        let came = |stock: &str, tank: &str, name: &str, founders: &Value, n: u32| {
            json!({"op": "stock.came_in", "stock": stock, "tank": tank, "name": name, "from": "shop",
                "source": "Aquarium by the ford", "species": "Xenotoca eiseni", "founders": founders,
                "rows": [row(founders, "unsexed", n)]})
        };
        let ops = [
            dated(
                pen,
                60 * DAY,
                json!({"op": "water.system_set", "system": loop_a, "name": "Loop A", "net_ml": 240_000}),
            ),
            dated(pen, 60 * DAY, tank(&a1, "A1")),
            dated(pen, 60 * DAY, tank(&a2, "A2")),
            dated(pen, 60 * DAY, tank(&q1, "Q1")),
            dated(pen, 60 * DAY, tank(&q2, "Window sill")),
            dated(pen, 60 * DAY, json!({"op": "tank.plumbed", "tank": a1, "system": loop_a})),
            dated(pen, 60 * DAY, json!({"op": "tank.plumbed", "tank": a2, "system": loop_a})),
            dated(
                pen,
                50 * DAY,
                json!({"op": "stock.established", "stock": guppies, "tank": a1, "species": "Poecilia wingei",
                "name": "line Campo", "founders": of_guppies,
                "rows": [row(&of_guppies, "male", 6), row(&of_guppies, "female", 9)]}),
            ),
            dated(pen, 31 * DAY, came(&held, &q1, "from the ford", &of_held, 6)),
            dated(pen, 12 * DAY, came(&later, &q2, "from the hill", &of_later, 4)),
            dated(pen, 26 * DAY, json!({"op": "look.done", "tanks": [q1]})),
            dated(pen, 20 * DAY, json!({"op": "look.done", "tanks": [q1]})),
            dated(pen, 14 * DAY, json!({"op": "look.done", "tanks": [q1]})),
            dated(pen, 10 * DAY, json!({"op": "look.done", "tanks": [q1, q2]})),
            dated(pen, 4 * DAY, json!({"op": "look.done", "tanks": [q1]})),
            dated(pen, 0, json!({"op": "look.done", "tanks": [a1]})),
            dated(
                pen,
                DAY,
                json!({"op": "water.read", "system": loop_a, "values": [
                {"what": "temperature", "typed": "24.6", "unit": "C", "milli": 24_600}]}),
            ),
            dated(pen, 3 * DAY, json!({"op": "note.written", "stock": held, "text": "Dear at the price."})),
        ];
        taken(&society.ada, &society.room, &ops);
        Self { society, guppies, held }
    }

    fn url(&self, path: &str) -> String {
        self.society.server.url(path)
    }

    fn room(&self) -> String {
        format!("/rooms/{}", self.society.room)
    }

    fn stock(&self, stock: &str) -> String {
        format!("{}/stocks/{stock}", self.room())
    }

    /// Signs in by the form, and stands on the first page.
    fn sign_in(&self, browser: &Browser, login: &str) {
        browser.sign_in(&self.url(""), login);
    }
}

/// Looks at the page as it is in light, dark and on the narrowest screen, and keeps a picture of it.
#[track_caller]
pub fn look_at(browser: &Browser, name: &str) {
    for scheme in ["light", "dark"] {
        browser.prefer(scheme);
        browser.check_accessibility();
        browser.screenshot(&format!("{name}-{scheme}"));
    }
    let narrow = json!({"width": 320, "height": 640, "deviceScaleFactor": 1, "mobile": true});
    browser.devtools("Emulation.setDeviceMetricsOverride", narrow);
    browser.check_accessibility();
    browser.devtools("Emulation.clearDeviceMetricsOverride", json!({}));
}

/// Fails unless a text says all of this.
#[track_caller]
pub fn assert_says(text: &str, words: &[&str]) {
    let plain = text.replace('\u{a0}', " ");
    for word in words {
        assert!(plain.contains(word), "{word:?} is not in:\n{plain}");
    }
}

#[test]
fn a_keeper_reads_their_room_and_writes_on_a_page() {
    let fishroom = Fishroom::new(Engine::Sqlite);
    let browser = Browser::start(Screen::Phone);
    browser.visit(&fishroom.url("/"));
    assert!(browser.url().ends_with("/sign-in"), "{}", browser.url());
    fishroom.sign_in(&browser, "ada");

    // one room: it is the first page
    assert!(browser.url().ends_with(&fishroom.room()), "{}", browser.url());
    assert_says(
        &browser.text("main"),
        &[
            "Q1, stands alone: one stock, the days are done, and one more thing is in the way.",
            "Window sill, stands alone: one stock, ready on",
            "No look for 10 days.",
            "May not leave: its days are done, but no steward has cleared it.",
            "Nothing to put right.",
            "30 of 30 days done",
            "12 of 30 days done",
            "240 l net, 2 tanks. Yesterday: 24.6 °C",
            "Poecilia wingei, line Campo",
            "6 m 9 f",
            "looked at today",
            "No fish yet. Shares the water of Loop A.",
        ],
    );
    look_at(&browser, "room");

    browser.visit(&fishroom.url(&fishroom.stock(&fishroom.guppies)));
    assert_says(
        &browser.text("main"),
        &["6 m 9 f in A1", "Not counted yet.", "here before the records: 6 m 9 f"],
    );
    look_at(&browser, "stock");

    // a form that can't be taken comes back with what was typed
    browser.click("details.write summary");
    browser.fill("#lost_numbers", "a few");
    browser.follow("details[open] button");
    assert_says(
        &browser.text(".errors"),
        &["Not written. Two answers are missing", "Choose what they were lost to."],
    );
    look_at(&browser, "stock-errors");
    browser.fill("#lost_numbers", "1 f");
    browser.click("#lost_cause option[value=jumped]");
    browser.fill("#lost_reason", "Lid was open");
    browser.follow("details[open] button");
    assert_says(&browser.text(".said"), &["Written: “Poecilia wingei, line Campo: 1 f lost, jumped out"]);
    assert_says(&browser.text(".lead"), &["6 m 8 f in A1"]);

    browser.follow(".take-back button");
    assert_says(&browser.text(".said"), &["Taken back: “Poecilia wingei, line Campo: 1 f lost"]);
    assert_says(&browser.text(".lead"), &["6 m 9 f in A1"]);
    assert_says(&browser.text(".taken-back"), &["1 f lost", "Taken back.", "ada, on a page"]);
    look_at(&browser, "stock-taken-back");

    browser.visit(&fishroom.url("/units"));
    look_at(&browser, "units");
    browser.follow("article .go");
    assert_says(
        &browser.text("main"),
        &["entries were recorded late", "A signature is missing", "Ask sten", "You can’t do this yourself."],
    );
    look_at(&browser, "unit");
}

#[test]
fn a_steward_reads_and_signs() {
    let fishroom = Fishroom::new(Engine::Sqlite);
    let browser = Browser::start(Screen::Desk);
    fishroom.sign_in(&browser, "sten");
    assert!(browser.url().ends_with("/sign-off"), "{}", browser.url());
    assert_says(
        &browser.text("main"),
        &[
            "No unit waits for a signature. The days of one are not done. Of one the days are done, but something is in the way.",
            "Fellside Fishkeepers has one health steward. It needs two",
            "Due, something in the way 1",
            "Running 1",
        ],
    );
    look_at(&browser, "desk");

    browser.follow("#running ~ div .go");
    assert_says(
        &browser.text("main"),
        &["Not ready. 12 of 30 days are done", "a shop (Aquarium by the ford)"],
    );
    look_at(&browser, "unit-running");

    browser.visit(&fishroom.url("/sign-off"));
    browser.follow("#blocked ~ div .go");
    let page = browser.text("main");
    assert_says(
        &page,
        &["Held 31 days, no signs recorded, cleared by a club steward on", "Not a health certificate."],
    );
    // what a steward needs, and nothing else
    browser.follow(".matter p a");
    assert_says(
        &browser.text("main"),
        &["Xenotoca eiseni, from the ford: came from a shop", "looked at in Q1"],
    );
    assert!(!browser.source().contains("Dear at the price."), "a keeper's note is shown to the steward");
    assert_eq!(browser.count("a.fish"), 0);
    browser.follow(".deeds a");

    // all that was written down late came in one push, and is let pass together
    assert_eq!(browser.count("textarea[name^=waiver]"), 1);
    browser.fill("textarea[name^=waiver]", "Copied from a notebook that I have seen.");
    browser.fill("#remark", "Bright and feeding.");
    browser.follow("button.filled");
    assert_says(&browser.text(".errors"), &["Not signed. One answer is missing", "Say how you saw the fish"]);
    assert_says(&browser.text(".wrong-answer"), &["Choose one. The signature says how you know."]);
    look_at(&browser, "sign-off-errors");
    browser.click("input[value=visit]");
    browser.follow("button.filled");
    assert!(browser.url().ends_with("/signed"), "{}", browser.url());
    let words = page.lines().find(|line| line.starts_with("Held 31 days")).unwrap_or_default().to_owned();
    assert_eq!(browser.text(".standing"), words, "other words stand than were signed");
    assert_says(
        &browser.text("main"),
        &["sten, health steward of", "I stood at the tank", "Bright and feeding.", "from a notebook"],
    );
    look_at(&browser, "signed");
}

fn form_of(visitor: &Visitor, path: &str, wanted: impl Fn(&Form) -> bool) -> Form {
    let page = visitor.get(path).expect("a page");
    page.form(wanted).unwrap_or_else(|| panic!("no such form on {path} ({}):\n{}", page.status, page.html))
}

on_both_engines! {
    fn what_is_written_on_pages_is_in_the_room(engine) {
        let fishroom = Fishroom::new(engine);
        let (ada, stock) = (Visitor::at(&fishroom.url("")), fishroom.stock(&fishroom.guppies));
        ada.sign_in("ada").expect("ada signs in");
        let empty = form_of(&ada, &stock, |f| f.fields.get("what").is_some_and(|what| what == "counted"));
        let form = empty.clone().with("counted_numbers", "5.9").with("counted_all", "all");
        for _ in 0..2 {
            // pressing twice is once
            let page = ada.post(&form).expect("an answer");
            assert!(page.status == 200 && page.html.contains("Written: "), "{}", page.html);
            assert!(page.html.contains("1 fewer than the records said"), "{}", page.html);
        }
        let other = ada.post(&form.clone().with("counted_numbers", "4.9")).expect("an answer");
        assert!(other.status == 409 && other.html.contains("Not written. "), "{}", other.html);
        let forged = ada.post(&empty.with("id", &uuid::Uuid::new_v4().to_string()).with("what", "note").with("note_text", "x"));
        assert_eq!(forged.expect("an answer").status, 422);
        let (ada_api, room) = (&fishroom.society.ada, &fishroom.society.room);
        let epoch = fishroom.society.epoch(ada_api, room);
        let ops = ada_api.caller.get(&format!("/api/v1/streams/{room}/ops?epoch={epoch}&after=0"));
        let counted = |op: &Value| op["op"]["body"]["op"] == "stock.counted";
        let ops = ops.expect(200).json();
        assert_eq!(ops["ops"].as_array().into_iter().flatten().filter(|op| counted(op)).count(), 1, "{ops}");

        let back = form_of(&ada, &fishroom.room(), |f| f.action.ends_with("/taken-back"));
        let page = ada.post(&back).expect("an answer");
        assert!(page.html.contains("Taken back: ") && page.html.contains("6\u{a0}m 9\u{a0}f"), "{}", page.html);
    }

    fn strangers_see_nothing_of_a_room(engine) {
        let fishroom = Fishroom::new(engine);
        let (room, stock) = (fishroom.room(), fishroom.stock(&fishroom.held));
        let nobody = Visitor::at(&fishroom.url(""));
        for path in [&room, &stock, "/rooms", "/units", "/sign-off"] {
            assert!(nobody.get(path).expect("a page").is_sign_in(), "{path}");
        }
        for login in ["sten", "zoe"] {
            let visitor = Visitor::at(&fishroom.url(""));
            visitor.sign_in(login).expect("they sign in");
            for path in [&room, &stock, &format!("/units/{}/{}", fishroom.society.room, id())] {
                assert_eq!(visitor.get(path).expect("a page").status, 404, "{login} at {path}");
            }
        }
        let zoe = Visitor::at(&fishroom.url(""));
        zoe.sign_in("zoe").expect("zoe signs in");
        assert_eq!(zoe.get("/sign-off").expect("a page").status, 404);
    }

    fn a_steward_signs_what_they_read(engine) {
        let fishroom = Fishroom::new(engine);
        let sten = Visitor::at(&fishroom.url(""));
        let desk = sten.sign_in("sten").expect("sten signs in");
        let mut link = desk.html.split("href=\"").skip(1).filter_map(|rest| rest.split('"').next());
        let unit = link.find(|href| href.starts_with("/sign-off/")).expect("a unit is due").to_owned();
        let waived = |form: Form| {
            let field = form.fields.keys().find(|name| name.starts_with("waiver-")).cloned();
            form.with(&field.expect("late entries are let pass"), "Copied from a notebook that I have seen.")
        };
        let form = waived(form_of(&sten, &unit, |f| f.action == unit)).with("seen", "video").with("remark", "Bright.");
        // ada writes of the fish while sten reads
        let note = json!({"op": "note.written", "stock": fishroom.held, "text": "ate well"});
        taken(&fishroom.society.ada, &fishroom.society.room, &[fishroom.society.adas.op(note)]);
        let again = sten.post(&form).expect("an answer");
        assert_eq!(again.status, 409);
        assert!(again.html.contains("Not signed. ") && again.html.contains("Bright."), "{}", again.html);
        let form = waived(again.form(|f| f.action == unit).expect("the form came back")).with("seen", "video");
        for _ in 0..2 {
            let signed = sten.post(&form).expect("an answer");
            assert!(signed.url.path().ends_with("/signed") && signed.status == 200, "{}", signed.html);
            assert!(signed.html.contains("Held 31 days, no signs recorded"), "{}", signed.html);
        }
        let after = sten.get(&unit).expect("a page");
        assert!(after.url.path().ends_with("/signed"), "{}", after.url);
    }
}
