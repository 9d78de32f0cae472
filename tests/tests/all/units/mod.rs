//! A unit whose days began again and again: its pages in a real browser, what a keeper and a steward press on them on
//! both engines, and how quickly somebody who has never seen it finds out why it is not ready.

mod reasons;
mod seen;
mod story;
mod together;

use crate::pages::{assert_says, look_at};
use serde_json::json;
use story::Story;
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::id;
use tarn_tests::site::{Form, Seen};

fn form(page: &Seen, wanted: impl Fn(&Form) -> bool) -> Form {
    page.form(wanted).unwrap_or_else(|| panic!("no such form ({}):\n{}", page.status, page.html))
}

#[track_caller]
fn says(page: &Seen, words: &[&str]) {
    assert_says(&page.html, words);
}

/// No words of the picture that is shown lie over others, by the browser's own measure.
#[track_caller]
fn assert_readable(browser: &Browser) {
    let meet = r"
        const shown = [...document.querySelectorAll('svg.drawing')].filter(s => s.getBoundingClientRect().width);
        const texts = shown.flatMap(s => [...s.querySelectorAll('text')]);
        const box = t => t.getBBox(), found = [];
        texts.forEach((a, i) => texts.slice(i + 1).forEach(b => {
            const [p, q] = [box(a), box(b)];
            if (p.x < q.x + q.width && q.x < p.x + p.width && p.y + 2 < q.y + q.height && q.y + 2 < p.y + p.height)
                found.push(a.textContent + ' | ' + b.textContent);
        }));
        texts.forEach(t => { const b = box(t), s = t.closest('svg').viewBox.baseVal;
            if (b.x < -1 || b.x + b.width > s.width + 1) found.push('outside: ' + t.textContent); });
        return [shown.length, found.join('; ')]";
    assert_eq!(browser.script(meet, vec![]), json!([1, ""]));
}

#[test]
fn a_unit_with_a_history_can_be_read_on_a_phone_and_at_a_desk() {
    let story = Story::told(Engine::Sqlite);
    for screen in [Screen::Phone, Screen::Desk] {
        let name = |page: &str| format!("{page}-{}", screen.size().0);
        let browser = story.browse(screen, "ada");
        look_at(&browser, &name("units-room"));
        assert_says(
            &browser.text("main"),
            &[
                "Q1 and Q2, Loop B: 2 stocks, ready on",
                "and 2 more things are in the way.",
                "No look for 9 days. One entry came late.",
                "May not leave: in quarantine, not before",
            ],
        );
        browser.visit(&story.url(&story.unit()));
        assert_readable(&browser);
        let text = browser.text("main");
        assert_says(
            &text,
            &[
                "Not ready. 11 of 30 days are done; not before",
                "Two more things stand in the way",
                "Into the water: Xenotoca eiseni, from the ford.",
                "More fish came into this water: Xenotoca eiseni, from the hill.",
                "A treatment ended: salt, by the label.",
                "A sign was seen: white spots on one fish.",
                "Loop B was treated from",
                "8 days of 30, then began again",
                "No look for 9 days",
                "The club’s rule wants one at least every 7 days.",
                "You begin the days again at the end of the gap. The day becomes",
                "A loss was recorded 4 days late",
                "After 72 hours a steward has to read it.",
                "You can’t do this yourself. Ask stella or sten.",
            ],
        );
        // every restart leads to its entry
        assert_eq!(browser.count(".runs tbody tr"), 4);
        assert_eq!(browser.count(".runs a"), 4);
        let dead = "return [...document.querySelectorAll('.runs a, .told a')]
            .filter(a => !document.querySelector(a.getAttribute('href').replace('#', '[id=\"') + '\"]')).length";
        assert_eq!(browser.script(dead, vec![]), 0, "a link leads to no entry");
        look_at(&browser, &name("unit-history"));
        browser.visit(&story.url(&format!("/rooms/{}/leaving", story.society.room)));
        assert_says(
            &browser.text("main"),
            &["One stock may leave; 2 stocks may not.", "line Campo", "Its unit"],
        );
        look_at(&browser, &name("leaving"));
    }
}

/// What somebody presses who wants to know why, and has never been here.
fn finds_out(browser: &Browser) -> usize {
    for step in 0..=3 {
        let text = browser.text("main");
        if text.contains("What clears it") {
            assert_says(&text, &["No look for 9 days", "Not ready. 11 of 30 days are done"]);
            return step;
        }
        // the first link whose words promise it
        let promising = "const links = [...document.querySelectorAll('main a, nav a')];
            const of = word => links.find(a => a.textContent.includes(word));
            const link = of('not ready') || of('Units') || links[0];
            document.querySelectorAll('[data-next]').forEach(a => delete a.dataset.next);
            link.dataset.next = ''; return link.textContent";
        browser.script(promising, vec![]);
        browser.follow("[data-next]");
    }
    panic!("not found in three steps: {}", browser.url());
}

#[test]
fn a_newcomer_finds_in_three_steps_why_a_unit_is_not_ready() {
    let story = Story::told(Engine::Sqlite);
    // with one room, and as a steward of the club
    for login in ["ada", "sten"] {
        let steps = finds_out(&story.browse(Screen::Phone, login));
        assert!(steps <= 3, "{login} needs {steps} steps");
    }
    // with several rooms
    let made = json!({"id": id(), "name": "Shed", "zone": "UTC"});
    story.society.ada.caller.post("/api/v1/rooms", &made).expect(201);
    let steps = finds_out(&story.browse(Screen::Phone, "ada"));
    assert!(steps <= 3, "with two rooms it takes {steps} steps");
}

#[test]
fn a_steward_reads_lets_pass_and_signs_in_a_browser() {
    let mut story = Story::told(Engine::Sqlite);
    let desk = story.browse(Screen::Desk, "sten");
    assert_says(&desk.text("main"), &["No unit waits for a signature.", "Running 1"]);
    desk.visit(&story.url(&story.unit()));
    assert_says(&desk.text("main"), &["The keeper begins the days again", "You let it pass in writing"]);
    look_at(&desk, "unit-steward-1280");
    for day in [36, 42, 48] {
        story.day(day);
        story.write(&[(day, story.look())]);
    }
    story.day(52);
    let phone = story.browse(Screen::Phone, "sten");
    look_at(&phone, "desk-blocked-390");
    assert_says(&phone.text("main"), &["Due, something in the way 1", "30 of 30 days done"]);
    phone.follow(".go");
    assert_says(
        &phone.text("main"),
        &["Waiver: no look for 9 days", "Waiver: a loss was recorded 4 days late"],
    );
    phone.click("input[value=visit]");
    phone.follow("button.filled");
    assert_says(&phone.text(".errors"), &["Not signed. Two answers are missing", "or don’t sign"]);
    look_at(&phone, "sign-off-waivers-390");
    let fields = "return [...document.querySelectorAll('textarea[name^=waiver]')].map(t => '#' + t.id)";
    let fields = phone.script(fields, vec![]);
    for field in fields.as_array().expect("fields") {
        phone.fill(field.as_str().expect("an id"), "I asked the keeper and saw the fish.");
    }
    phone.follow("button.filled");
    assert!(phone.url().ends_with("/signed"), "{}", phone.url());
    assert_says(
        &phone.text("main"),
        &[
            "Let pass 2",
            "2 times without a look: “I asked the keeper and saw the fish.”",
            "An entry that came late, Xenotoca eiseni, from the ford: 1 unsexed lost, jumped out",
            "one sign recorded",
        ],
    );
    look_at(&phone, "signed-waivers-390");
}

on_both_engines! {
    fn the_keeper_begins_the_days_again_by_a_button(engine) {
        let story = Story::told(engine);
        let (ada, unit) = (story.visitor("ada"), story.unit());
        let page = ada.get(&unit).expect("a page");
        let again = form(&page, |f| f.action.ends_with("/begin-again"));
        let done = ada.post(&again).expect("an answer");
        says(&done, &["Written. The days begin again from there.", "Not ready. 2 of 30 days are done"]);
        assert!(!done.html.contains("No look for 9 days"), "{}", done.html);
        says(&done, &["The keeper began them again", "A loss was recorded 4 days late"]);
        // pressing twice is once
        says(&ada.post(&again).expect("an answer"), &["Nothing was changed: it is no longer in the way."]);
        // not for a steward, and not for somebody who keeps another room
        let sten = story.visitor("sten");
        let page = sten.get(&unit).expect("a page");
        assert!(page.form(|f| f.action.ends_with("/begin-again")).is_none());
        let stolen = form(&page, |f| f.fields.contains_key("csrf")).fields["csrf"].clone();
        let theirs = Form { fields: again.fields.clone(), ..again }.with("csrf", &stolen);
        let page = sten.post(&theirs).expect("an answer");
        assert!(page.status == 404 || page.html.contains("Nothing was changed"), "{}: {}", page.status, page.html);
    }

    fn a_steward_lets_pass_what_is_in_the_way_and_says_why(engine) {
        let story = Story::told(engine);
        let (sten, unit) = (story.visitor("sten"), story.unit());
        let page = sten.get(&unit).expect("a page");
        let late = |f: &Form| f.fields.keys().any(|name| name.starts_with("waiver-recorded-late"));
        let empty = form(&page, late);
        let field = empty.fields.keys().find(|name| name.starts_with("waiver-")).expect("a field").clone();
        let refused = sten.post(&empty).expect("an answer");
        assert_eq!(refused.status, 422);
        says(&refused, &["Not let pass. A reason is missing, or too long", "Write at least one sentence."]);
        let passed = sten.post(&empty.with(&field, "The keeper was away; I asked.")).expect("an answer");
        says(&passed, &["Let pass. It is written in the room’s records", "One more thing stands in the way"]);
        assert!(!passed.html.contains("A loss was recorded 4 days late"), "{}", passed.html);
        // a keeper has no such button, and is told who has
        let ada = story.visitor("ada");
        let page = ada.get(&unit).expect("a page");
        assert!(page.form(|f| f.action.ends_with("/waivers")).is_none());
        says(&page, &["A steward waives it in writing"]);
    }

    fn a_signature_needs_a_reason_for_each_thing_that_it_lets_pass(engine) {
        let mut story = Story::told(engine);
        for day in [36, 42, 48] {
            story.day(day);
            story.write(&[(day, story.look())]);
        }
        let sten = story.visitor("sten");
        let sign = story.unit().replace("/units/", "/sign-off/");
        // on day 48 the days are not done
        let early = sten.get(&sign).expect("a page");
        assert!(early.form(|f| f.action == sign).is_none());
        says(&early, &["The days are not done"]);
        story.day(52);
        let page = sten.get(&sign).expect("a page");
        let mut filled = form(&page, |f| f.action == sign).with("seen", "video");
        says(&page, &["These are the words that will stand", "Held 31 days, one sign recorded"]);
        let refused = sten.post(&filled).expect("an answer");
        assert_eq!(refused.status, 422);
        says(&refused, &["Not signed. Two answers are missing"]);
        let names: Vec<String> = filled.fields.keys().filter(|name| name.starts_with("waiver-")).cloned().collect();
        assert_eq!(names.len(), 2, "{names:?}");
        for name in names {
            filled = filled.with(&name, "I asked, and saw the fish.");
        }
        for _ in 0..2 {
            let signed = sten.post(&filled).expect("an answer");
            assert!(signed.url.path().ends_with("/signed") && signed.status == 200, "{}", signed.html);
            says(&signed, &["Let pass", "I asked, and saw the fish.", "These fish may leave"]);
        }
        // what comes in later and is dated before it recalls it
        story.day(53);
        let sign_seen = json!({"op": "sign.seen", "stock": story.held, "sign": "spots"});
        story.write(&[(50, sign_seen)]);
        let page = story.visitor("ada").get(&story.unit()).expect("a page");
        says(&page, &["recalled", "The sign-off was recalled", "counts as never given"]);
    }
}
