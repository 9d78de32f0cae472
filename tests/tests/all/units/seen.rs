//! Every reason why a unit is not ready, seen on a phone and at a desk, in light and dark, on the narrowest screen: what
//! can be read, and that nothing lies over anything else.

use super::assert_readable;
use super::story::{Story, came, established};
use super::together::of_two_clubs;
use crate::pages::{assert_says, look_at};
use serde_json::{Value, json};
use tarn_tests::browser::Screen;
use tarn_tests::engine::Engine;
use tarn_tests::pen::id;

/// Looks at the one unit's page, or another of it, as somebody; it says all of this.
fn see(story: &Story, login: &str, path: &str, name: &str, words: &[&str]) {
    for screen in [Screen::Phone, Screen::Desk] {
        let browser = story.browse(screen, login);
        browser.visit(&story.url(path));
        if browser.count("svg.drawing") > 0 {
            assert_readable(&browser);
        }
        for fold in 0..browser.count("details.write") {
            let open = "document.querySelectorAll('details.write')[arguments[0]].open = true";
            browser.script(open, vec![fold.into()]);
        }
        assert_says(&browser.text("main"), words);
        let dead = "return [...document.querySelectorAll('main a[href^=\"#\"]')]
            .filter(a => !document.getElementById(a.getAttribute('href').slice(1))).length";
        assert_eq!(browser.script(dead, vec![]), 0, "a link leads to nothing");
        look_at(&browser, &format!("reason-{name}-{}", screen.size().0));
    }
}

#[test]
fn fish_in_the_bag_of_a_room_without_a_club() {
    let mut story = Story::room(Engine::Sqlite);
    story.write(&[(0, came(&story.held, None, "from the ford", 6)), (0, established(&id(), &story.a1))]);
    see(&story, "ada", &story.unit(), "bag", &["The fish are still in the bag", "Name Fellside Fishkeepers"]);
    story.write(&[(0, json!({"op": "stock.moved", "stock": story.held, "from": null, "to": story.q1}))]);
    story.looks_on(&[7, 14, 21, 28]);
    story.day(31);
    see(&story, "ada", &story.unit(), "no-club", &["Days completed, not cleared"]);
}

#[test]
fn home_fish_on_the_sump_and_a_treatment() {
    let mut story = Story::begun(Engine::Sqlite);
    story.day(3);
    let plumbed = json!({"op": "tank.plumbed", "tank": story.a1, "system": story.loop_b});
    story.write(&[(3, plumbed), (3, story.look())]);
    see(
        &story,
        "ada",
        &story.unit(),
        "breach",
        &["Home fish share this water", "line Campo in A1 on Loop B"],
    );
    story.day(5);
    let begun = |with: &str, what: &str| -> Value {
        json!({"op": "treatment.began", "treatment": id(), "system": story.loop_b, "with": with, "what": what})
    };
    story.write(&[
        (5, begun("salt", "salt, by the label")),
        (5, begun("medicine", "what our veterinarian gave")),
    ]);
    see(&story, "ada", &story.unit(), "treated", &["A treatment runs", "It is over: salt, by the label"]);
}

#[test]
fn what_a_steward_lets_pass() {
    let mut story = Story::begun(Engine::Sqlite);
    story.day(2);
    let sign = |what: &str| json!({"op": "sign.seen", "stock": story.held, "sign": what});
    let seen = story.write(&[(2, sign("clamped fins")), (2, sign("a white spot"))]);
    let jumped = json!({"op": "stock.lost", "stock": story.held, "cause": "jumped", "rows": story.rows(2)});
    let more = json!({"op": "stock.counted", "stock": story.held, "rows": story.rows(7), "all": true});
    let wrong = |entry: &str| json!({"op": "op.withdrawn", "entry": entry, "why": "it was the light"});
    story.day(5);
    story.write(&[(5, wrong(&seen[0])), (5, wrong(&seen[1])), (5, jumped), (5, more)]);
    let words = ["2 entries were taken back", "Many were lost under named causes", "A count found more fish"];
    see(&story, "sten", &story.unit(), "steward", &words);
    story.looks_on(&[7, 14, 21, 28]);
    story.day(31);
    let sign = story.unit().replace("/units/", "/sign-off/");
    see(
        &story,
        "sten",
        &sign,
        "sign-off",
        &["Waiver: 2 entries were taken back", "Waiver: a count found more"],
    );
}

#[test]
fn a_signature_of_each_club() {
    let mut story = of_two_clubs(Engine::Sqlite);
    story.looks_on(&[7, 14, 21, 28]);
    story.day(31);
    see(&story, "ada", &story.unit(), "two-clubs", &["A signature of each club is missing"]);
    let sign = story.unit().replace("/units/", "/sign-off/");
    see(&story, "hedda", &sign, "two-clubs-sign", &["Each club signs", "Not yet. This is yours."]);
}
