//! Units whose fish share water or clubs: home fish on the same sump, a room of several clubs or of none, and a rule under
//! which all wait for the last.

use super::reasons::signed;
use super::story::{Story, came, established};
use super::{assert_readable, form, says};
use crate::pages::{assert_says, look_at};
use serde_json::json;
use tarn_tests::browser::Screen;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::id;
use tarn_tests::people::Club;

/// Ada's room belonged to Harbour Aquarists too, whose health steward is Hedda.
pub fn of_two_clubs(engine: Engine) -> Story {
    let mut story = Story::begun(engine);
    let other = Club::found(&story.society.server, "Harbour Aquarists", "hanna");
    other.member("hedda", Some("health_steward"));
    let joins = ["officer", "add", "--login", "ada", "--club", "Harbour Aquarists", "--role", "librarian"];
    story.society.server.command(&joins).expect(0);
    story.day(1);
    story.home_club(&other.id);
    story
}

on_both_engines! {
    fn home_fish_on_the_sump_of_an_arrival_are_held_with_it(engine) {
        let mut story = Story::room(engine);
        story.home_club(&story.society.club.id);
        let campo = id();
        story.write(&[(0, established(&campo, &story.q2))]);
        story.day(2);
        story.write(&[(2, came(&story.held, Some(&story.q1), "from the ford", 6))]);
        let ada = story.visitor("ada");
        let page = ada.get(&story.unit()).expect("a page");
        says(&page, &[
            "Q1 and Q2, Loop B",
            "Home fish share this water",
            "They were here before and began to share the water.",
            "on they are held with the unit and are cleared with it; their days begin there.",
            "<i>Poecilia wingei</i>, line Campo in Q2 on Loop B, since",
            "Taking them out again does not undo it.",
        ]);
        // a second arrival on the same sump: everyone in the water begins again, the home fish too
        story.looks_on(&[9]);
        story.write(&[(9, came(&id(), Some(&story.q1), "from the hill", 4))]);
        let page = story.visitor("ada").get(&story.unit()).expect("a page");
        says(&page, &["0 of 30 days are done", "7 days of 30, then began again", "More fish came into this water"]);
        // out of the water again they are held as long, in a unit of their own
        story.write(&[(9, json!({"op": "stock.moved", "stock": campo, "from": story.q2, "to": story.a1}))]);
        let leaving = story.visitor("ada").get(&format!("/rooms/{}/leaving", story.society.room)).expect("a page");
        says(&leaving, &["No stock may leave; 3 stocks may not."]);
        story.write(&[(9, json!({"op": "stock.moved", "stock": campo, "from": story.a1, "to": story.q2}))]);
        story.looks_on(&[16, 23, 30, 37]);
        story.day(40);
        let signed = signed(&story, "sten");
        says(&signed, &["These fish may leave", "<i>Poecilia wingei</i>, line Campo"]);
        let leaving = story.visitor("ada").get(&format!("/rooms/{}/leaving", story.society.room)).expect("a page");
        says(&leaving, &["3 stocks may leave"]);
    }

    fn a_room_with_no_club(engine) {
        let mut story = Story::room(engine);
        story.write(&[(0, came(&story.held, Some(&story.q1), "from the ford", 6))]);
        story.looks_on(&[7, 14, 21, 28]);
        story.day(31);
        let ada = story.visitor("ada");
        let page = ada.get(&story.unit()).expect("a page");
        says(&page, &[
            "Days completed, not cleared: nobody can sign, since the room has no home club.",
            "The room has no home club",
            "The shipped rule runs as advice. Days are counted, but nobody can clear the unit",
        ]);
        let sign = story.unit().replace("/units/", "/sign-off/");
        assert_eq!(story.visitor("sten").get(&sign).expect("a page").status, 404, "it is no business of a stranger");
        let name = form(&page, |f| f.action.ends_with("/home-club"));
        says(&page, &["Name Fellside Fishkeepers</button>", "It stays a club of this unit"]);
        let page = ada.post(&name).expect("an answer");
        says(&page, &[
            "Named. Its rule holds here from now on, and its stewards see the unit.",
            "A signature is missing",
            "Ask stella or sten.",
        ]);
        says(&ada.post(&name).expect("an answer"), &["Nothing was changed: it is no longer in the way."]);
        assert!(!page.html.contains("no home club"), "{}", page.html);
        says(&signed(&story, "sten"), &["These fish may leave"]);
    }

    fn two_clubs_that_both_have_to_sign(engine) {
        let mut story = of_two_clubs(engine);
        story.looks_on(&[7, 14, 21, 28]);
        story.day(31);
        let page = story.visitor("ada").get(&story.unit()).expect("a page");
        says(&page, &[
            "A health steward of each club has to sign: Fellside Fishkeepers and Harbour Aquarists.",
            "A signature of each club is missing",
            "Ask stella or sten of Fellside Fishkeepers, and hedda of Harbour Aquarists.",
        ]);
        let first = signed(&story, "sten");
        says(&first, &["This signature stands. A steward of Harbour Aquarists has to sign, too"]);
        // the first has done their part, and nothing is free yet
        let page = story.visitor("ada").get(&story.unit()).expect("a page");
        says(&page, &["Another club’s signature is missing", "sten has signed for Fellside Fishkeepers.", "Ask hedda."]);
        let page = story.visitor("stella").get(&story.unit()).expect("a page");
        says(&page, &["Your club has signed. Ask hedda."]);
        let hedda = story.visitor("hedda");
        let sign = story.unit().replace("/units/", "/sign-off/");
        let page = hedda.get(&sign).expect("a page");
        says(&page, &["Each club signs", "sten has signed.", "Not yet. This is yours."]);
        let filled = form(&page, |f| f.action == sign).with("seen", "pictures");
        says(&hedda.post(&filled).expect("an answer"), &["These fish may leave"]);
    }
}

/// A club under whose rule fish that come later have days of their own.
fn where_all_wait(engine: Engine) -> Story {
    let mut story = Story::room(engine);
    let path = format!("/api/v1/clubs/{}/rule", story.society.club.id);
    let secretary = &story.society.club.secretary.caller;
    let shipped = secretary.post(&path, &json!({})).expect(201).json();
    let mut rule = shipped["rule"].clone();
    rule["shared_water"] = "wait_for_last".into();
    secretary.post(&path, &json!({"rule": rule})).expect(201);
    story.home_club(&story.society.club.id);
    // by the next day the rule is in force
    story.day(1);
    story.write(&[(1, came(&story.held, Some(&story.q1), "from the ford", 6))]);
    story
}

#[test]
fn where_all_wait_for_the_last_each_has_days_of_its_own() {
    let mut story = where_all_wait(Engine::Sqlite);
    story.looks_on(&[8]);
    story.write(&[(8, came(&id(), Some(&story.q2), "from the hill", 4))]);
    story.looks_on(&[14, 20]);
    story.write(&[(20, came(&id(), Some(&story.q2), "from the mill", 3))]);
    story.looks_on(&[26, 32, 34]);
    for (screen, name) in [(Screen::Phone, "reasons-wait-390"), (Screen::Desk, "reasons-wait-1280")] {
        let browser = story.browse(screen, "ada");
        browser.visit(&story.url(&story.unit()));
        assert_readable(&browser);
        let text = browser.text("main");
        assert_says(
            &text,
            &[
                "Not ready. 14 of 30 days are done; not before",
                "fish that come later have 30 days of their own, and all in this water wait for the last.",
                "30 of 30 days done; waits for the last",
                "26 of 30 days done",
                "14 of 30 days done",
                "all wait until the last has done its own",
                "the longest gap 7 days",
            ],
        );
        // nobody's days began again
        assert!(!text.contains("egan again"), "{text}");
        let again = "return document.querySelectorAll('.drawing .again').length";
        assert_eq!(browser.script(again, vec![]), 0);
        assert_eq!(browser.count(".runs tbody tr"), 3);
        look_at(&browser, name);
    }
    // but a sign begins them all again
    story.day(35);
    story.write(&[(35, json!({"op": "sign.seen", "stock": story.held, "sign": "white spots"}))]);
    let page = story.visitor("ada").get(&story.unit()).expect("a page");
    says(
        &page,
        &[
            "0 of 30 days are done",
            "white spots; the days began again then",
            "27 days of 30, then began again",
        ],
    );
}
