//! Each reason why a unit may not be ready, on the pages of those who have to do with it: the exact words, who is told
//! what clears it, and that pressing it clears it. Breaches, clubs and waiting for the last are in `together`.

use super::story::{Story, came};
use super::{form, says};
use crate::pages::{assert_says, look_at};
use serde_json::json;
use tarn_tests::browser::Screen;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::id;
use tarn_tests::site::Form;

/// Lets pass what a field of this name is about, as a steward.
fn let_pass(story: &Story, field: &str, why: &str) -> tarn_tests::site::Seen {
    let sten = story.visitor("sten");
    let page = sten.get(&story.unit()).expect("a page");
    let empty = form(&page, |f| f.action.ends_with("/waivers") && named(f, field).is_some());
    let field = named(&empty, field).expect("a field");
    sten.post(&empty.with(&field, why)).expect("an answer")
}

fn named(form: &Form, begins: &str) -> Option<String> {
    form.fields.keys().find(|name| name.starts_with(begins)).cloned()
}

/// A steward reads and signs; what stands then.
pub fn signed(story: &Story, login: &str) -> tarn_tests::site::Seen {
    let steward = story.visitor(login);
    let sign = story.unit().replace("/units/", "/sign-off/");
    let page = steward.get(&sign).expect("a page");
    let filled = form(&page, |f| f.action == sign).with("seen", "visit");
    let signed = steward.post(&filled).expect("an answer");
    assert!(signed.status == 200 && signed.url.path().ends_with("/signed"), "{}", signed.html);
    signed
}

on_both_engines! {
    fn many_lost_under_named_causes_and_one_of_them_judged_unexplained(engine) {
        let mut story = Story::begun(engine);
        let jumped = json!({"op": "stock.lost", "stock": story.held, "cause": "jumped", "rows": story.rows(1)});
        story.day(3);
        story.write(&[(3, jumped.clone())]);
        let page = story.visitor("ada").get(&story.unit()).expect("a page");
        assert!(!page.html.contains("Many were lost"), "one of six is not many: {}", page.html);
        story.day(4);
        story.write(&[(4, jumped)]);
        let sten = story.visitor("sten");
        let page = sten.get(&story.unit()).expect("a page");
        says(&page, &[
            "Many were lost under named causes",
            "more than 20 % were lost under named causes, or given away, in the days that count.",
            "A named cause does not begin the days again, so a steward looks at so many.",
            "You hold the last loss for unexplained; the days begin again from it.",
            "Losses: 2, with a named cause.",
            "4 of 30 days are done",
        ]);
        let empty = form(&page, |f| f.action.ends_with("/losses"));
        says(&sten.post(&empty).expect("an answer"), &["Not let pass. A reason is missing, or too long"]);
        let field = named(&empty, "judged-").expect("a field");
        let judged = sten.post(&empty.with(&field, "The lid was shut when I came.")).expect("an answer");
        says(&judged, &[
            "Written. The loss is held for unexplained, and the days begin again from it.",
            "0 of 30 days are done",
            "A loss that a steward holds for unexplained",
            "Losses: 1, to disease or not explained.",
        ]);
        assert!(!judged.html.contains("Many were lost under named causes"), "{}", judged.html);
    }

    fn a_count_that_found_more(engine) {
        let mut story = Story::begun(engine);
        story.day(3);
        story.write(&[(3, json!({"op": "stock.counted", "stock": story.held, "rows": story.rows(8), "all": true}))]);
        let page = story.visitor("ada").get(&story.unit()).expect("a page");
        says(&page, &[
            "A count found more fish",
            "2 more than the records said. Nobody knows where they come from, or since when they share this water.",
            "A steward waives it in writing, with the sign-off or before. You can’t do this yourself. Ask stella or sten.",
        ]);
        let passed = let_pass(&story, "waiver-found-more-", "Two young hid in the moss; I saw them.");
        says(&passed, &["Let pass. It is written in the room’s records", "Two young hid in the moss; I saw them."]);
        assert!(!passed.html.contains("A count found more fish"), "{}", passed.html);
    }

    fn an_entry_taken_back(engine) {
        let mut story = Story::begun(engine);
        story.day(2);
        let seen = story.write(&[(2, json!({"op": "sign.seen", "stock": story.held, "sign": "clamped fins"}))]);
        story.day(5);
        let wrong = json!({"op": "op.withdrawn", "entry": seen[0], "why": "it was the light"});
        story.write(&[(5, wrong)]);
        let ada = story.visitor("ada");
        let page = ada.get(&story.unit()).expect("a page");
        says(&page, &[
            "A sign was taken back",
            "“<i>Xenotoca eiseni</i>, from the ford: sign seen: clamped fins”,",
            "by ada, a phone: “it was the light”. It no longer counts, but a steward has to read it",
            "One more thing stands in the way",
        ]);
        // the days go on as if it had not been written, and still a second person has to read it
        says(&page, &["Not ready. 5 of 30 days are done"]);
        let passed = let_pass(&story, "waiver-evidence-withdrawn-", "I saw them on video: no clamped fins.");
        assert!(!passed.html.contains("A sign was taken back"), "{}", passed.html);
    }

    fn fish_still_in_the_bag(engine) {
        let story = Story::room(engine);
        story.home_club(&story.society.club.id);
        story.write(&[(0, came(&story.held, None, "from the ford", 6))]);
        let ada = story.visitor("ada");
        let page = ada.get(&story.unit()).expect("a page");
        says(&page, &[
            "<h1><i>Xenotoca eiseni</i>, from the ford, in the bag</h1>",
            "Not ready. The fish are still in the bag; the days begin when they go into water of their own.",
        ]);
        // nobody can sign for a bag
        let sign = story.unit().replace("/units/", "/sign-off/");
        let page = story.visitor("sten").get(&sign).expect("a page");
        assert!(page.form(|f| f.action == sign).is_none());
        says(&page, &["The fish are still in the bag", "The keeper puts them into water of their own"]);
        // which water, the keeper says
        let page = ada.get(&story.unit()).expect("a page");
        says(&page, &[
            "A bag has no days: they begin when the fish swim in water that they share with no others.",
            "They swim in it now",
            "<option value=\"\">Choose one</option>",
        ]);
        let swim = form(&page, |f| f.action.ends_with("/out-of-the-bag"));
        says(&ada.post(&swim).expect("an answer"), &["Nothing was written: no tank was chosen.", "in the bag"]);
        let swim = swim.with("tank", &story.a1);
        let page = ada.post(&swim).expect("an answer");
        says(&page, &["Written. They swim, and the days begin.", "A1, stands alone", "Not ready. 0 of 30 days are done"]);
        says(&ada.post(&swim).expect("an answer"), &["Nothing was changed: it is no longer in the way."]);
    }

    fn a_treatment_that_runs(engine) {
        let mut story = Story::begun(engine);
        let treatment = id();
        story.day(4);
        story.write(&[(4, json!({"op": "treatment.began", "treatment": treatment, "system": story.loop_b,
            "with": "salt", "what": "salt, by the label"}))]);
        let ada = story.visitor("ada");
        let page = ada.get(&story.unit()).expect("a page");
        says(&page, &[
            "treating",
            "Not ready. A treatment runs, so the days don’t; they begin again when it ends.",
            "Loop B has been treated since",
            "You write down its end when the label and the veterinarian say that it is over",
        ]);
        // a steward reads it, and ends nothing
        let page = story.visitor("sten").get(&story.unit()).expect("a page");
        says(&page, &["The keeper writes down its end when the label"]);
        assert!(page.form(|f| f.action.ends_with("/treatment-ended")).is_none());
        story.day(6);
        let ada = story.visitor("ada");
        let page = ada.get(&story.unit()).expect("a page");
        let over = form(&page, |f| f.action.ends_with("/treatment-ended"));
        says(&page, &["The treatment is over</button>"]);
        let page = ada.post(&over).expect("an answer");
        says(&page, &[
            "Written. The treatment is over, and the days begin again.",
            "Not ready. 0 of 30 days are done",
            "A treatment ended: salt, by the label.",
        ]);
        assert!(!page.html.contains("A treatment runs"), "{}", page.html);
        says(&ada.post(&over).expect("an answer"), &["Nothing was changed: it is no longer in the way."]);
    }
}

#[test]
fn bags_come_first_in_every_list() {
    let mut story = Story::begun(Engine::Sqlite);
    let treated = id();
    story.day(2);
    story.write(&[
        (2, came(&id(), Some(&story.a2), "from the mill", 3)),
        (
            2,
            json!({"op": "treatment.began", "treatment": treated, "tank": story.a2, "with": "salt",
            "what": "salt, by the label"}),
        ),
        (2, came(&id(), None, "from the hill", 4)),
    ]);
    let phone = story.browse(Screen::Phone, "ada");
    let names = "return [...document.querySelectorAll('article.entry h3')].map(h => h.textContent)";
    let wanted = json!(["Xenotoca eiseni, from the hill, in the bag", "Q1, Loop B", "A2, stands alone"]);
    assert_eq!(phone.script(names, vec![]), wanted);
    assert_eq!(phone.text("article.entry h3 i"), "Xenotoca eiseni");
    look_at(&phone, "reasons-room-390");
    phone.visit(&story.url("/units"));
    assert_eq!(phone.script(names, vec![]), wanted);
    assert_says(&phone.text("main"), &["Fish in one bag wait for water."]);
    look_at(&phone, "reasons-units-390");
    let path = format!("/api/v1/quarantine/units?room={}", story.society.room);
    let told = story.society.ada.caller.get(&path).expect(200).json();
    let units = told["rooms"][0]["units"].as_array().cloned().unwrap_or_default();
    let states: Vec<&str> = units.iter().filter_map(|unit| unit["state"].as_str()).collect();
    assert_eq!(states, ["in the bag", "running", "treating"], "{told}");
}
