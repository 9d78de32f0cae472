//! The pages about being told, in a real browser.

use super::Told;
use crate::pages::{assert_says, look_at};
use serde_json::json;
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;

#[test]
fn a_keeper_reads_what_they_are_told_on_a_phone() {
    let mut t = Told::new(Engine::Sqlite, "2027-03-20T12:00:00Z");
    let browser = Browser::start(Screen::Phone);
    browser.sign_in(&t.s.server.url(""), "zoe");
    browser.visit(&t.s.server.url("/messages"));
    assert_says(&browser.text("main"), &["Nobody has told you anything yet."]);
    look_at(&browser, "messages-none");
    t.came_in("Q1", "2027-03-10T12:00:00Z");
    t.came_in("Q2", "2027-03-12T12:00:00Z");
    t.go_to("2027-04-20T12:00:00Z");
    t.tell();
    browser.follow("nav form button");
    browser.sign_in(&t.s.server.url(""), "ada");
    assert_says(&browser.text("nav.menu"), &["Messages, 2 new"]);
    browser.visit(&t.s.server.url("/messages"));
    assert_says(
        &browser.text("main"),
        &["2 messages are new.", "Q2, stands alone, in Cellar. Its days were done on"],
    );
    look_at(&browser, "messages");
    browser.follow("article form button");
    assert_says(&browser.text("main"), &["One message is new."]);
    assert_eq!(browser.count("article .state"), 1);
    look_at(&browser, "messages-one-read");
    browser.follow("form.deeds button");
    assert_says(&browser.text("main"), &["Nothing new."]);
    assert_eq!(browser.count("article"), 2);
    assert_eq!(browser.count("article .state"), 0);
    browser.follow("article .go");
    assert!(browser.url().contains("/units/"), "{}", browser.url());
}

#[test]
fn a_keeper_makes_and_ends_a_calendar() {
    let t = Told::new(Engine::Sqlite, "2027-03-20T12:00:00Z");
    let browser = Browser::start(Screen::Desk);
    browser.sign_in(&t.s.server.url(""), "ada");
    browser.visit(&t.s.server.url("/account"));
    assert_says(&browser.text("#telling"), &["No mail is sent to you.", "at a secret address"]);
    look_at(&browser, "account-telling-off");
    browser.follow("form[action='/account/calendar'] button");
    let address = browser.text(".secret");
    let path = address.strip_prefix(&t.s.server.url("")).unwrap_or_else(|| panic!("{address}")).to_owned();
    t.s.stranger().get(&path).expect(200);
    look_at(&browser, "calendar-address");
    browser.follow("main .go");
    assert!(!browser.source().contains(&path), "it is shown once");
    browser.follow("form[action='/account/digest'] button");
    assert_says(
        &browser.text("#telling"),
        &["A letter was sent to your address.", "Your calendar has had its address"],
    );
    look_at(&browser, "account-telling");
    browser.follow("form[action='/account/calendar/end'] button");
    t.s.stranger().get(&path).problem(404, "not-found");

    t.tell();
    let letter = t.letters()[0].replace("=\r\n", "").replace("=3D", "=");
    let link =
        letter.split_whitespace().find(|word| word.contains("/account/digest?token=")).expect("a link");
    browser.visit(link);
    assert_says(&browser.text("main"), &["to ada@example.org"]);
    look_at(&browser, "digest-asked");
    browser.follow("button.filled");
    assert_says(&browser.text("h1"), &["The digest is on"]);
    look_at(&browser, "digest-on");
    browser.follow("main .go");
    assert_says(&browser.text("#telling"), &["Once a day at 7 in the morning, UTC"]);
    assert_eq!(t.s.ada.caller.get("/api/v1/account/telling").expect(200).json()["digest"], json!("on"));
}
