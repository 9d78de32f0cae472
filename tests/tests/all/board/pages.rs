//! The pages of the board and of swaps in a real browser, on a phone and at a desk, light and dark; and as plain forms.

use super::{Board, messages, reply};
use crate::pages::{assert_says, look_at};
use serde_json::json;
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::id;
use tarn_tests::site::{Form, Seen, Visitor};

/// From an empty board to a swap that is agreed.
fn walk(screen: Screen, name: &str) {
    let b = Board::new(Engine::Sqlite);
    let browser = Browser::start(screen);
    browser.sign_in(&b.s.server.url(""), "ada");
    assert_says(&browser.text("nav.menu"), &["Notices", "Swaps"]);
    browser.visit(&b.s.server.url("/notices"));
    assert_says(&browser.text("main"), &["Nothing is on the boards of your clubs.", "No notice yet."]);
    look_at(&browser, &format!("board-empty-{name}"));

    browser.follow("main .ways .go");
    browser.click("input[value=for_sale]");
    browser.fill("#species", "Poecilia wingei");
    browser.fill("#numbers", "a few");
    browser.fill("#area", "Mill Lane 114");
    browser.follow("button.filled");
    assert_says(&browser.text(".errors"), &["Not put up.", "never an address", "is no number of fish"]);
    look_at(&browser, &format!("board-form-errors-{name}"));
    browser.click("#stock option:last-child");
    browser.fill("#form", "Campo");
    browser.fill("#numbers", "2 m 3 f");
    browser.fill("#price", "12.50");
    browser.fill("#currency", "eur");
    browser.fill("#area", "Upper valley");
    browser.click("input[value=either]");
    browser.fill("#remarks", "Grown on rain water.\nFed with brine shrimp.");
    browser.follow("button.filled");
    assert_says(
        &browser.text("main"),
        &[
            "The notice stands.",
            "EUR 12.50",
            "2 m 3 f",
            "Upper valley",
            "Posting live animals",
            "Nobody has replied yet.",
        ],
    );
    look_at(&browser, &format!("board-own-{name}"));
    let notice = browser.url().split('?').next().unwrap_or_default().to_owned();

    browser.sign_in(&b.s.server.url(""), "zoe");
    browser.visit(&b.s.server.url("/notices"));
    assert_says(
        &browser.text("main"),
        &["For sale; EUR 12.50; 2 m 3 f; Upper valley, in person or by post", "ada, Fellside Fishkeepers"],
    );
    look_at(&browser, &format!("board-{name}"));
    browser.fill("#q", "nothing-like-it");
    browser.follow("form.search button");
    assert_says(&browser.text("main"), &["No notice has these words."]);
    browser.visit(&notice);
    look_at(&browser, &format!("board-notice-{name}"));
    browser.follow("form button.filled");
    assert_says(&browser.text(".errors"), &["Not sent.", "Write 1 to 2,000 signs."]);
    browser.fill("#text", "Would you swap a pair?\nI have Xenotoca.");
    browser.follow("form button.filled");
    assert_says(&browser.text("main"), &["About a notice: for sale: Poecilia wingei.", "I have Xenotoca."]);
    look_at(&browser, &format!("board-thread-{name}"));
    browser.follow("main .ways .go:last-child");
    look_at(&browser, &format!("board-swap-form-{name}"));
    browser.click("#give option:last-child");
    browser.fill("#give_numbers", "6");
    browser.click("#ask option:last-child");
    browser.follow("button.filled");
    assert_says(&browser.text(".errors"), &["Not proposed.", "Say how many."]);
    browser.fill("#ask_numbers", "1.1");
    browser.follow("button.filled");
    assert_says(
        &browser.text("main"),
        &["The swap is proposed.", "You give", "6 unsexed", "You get", "1 m 1 f"],
    );
    look_at(&browser, &format!("board-swap-proposed-{name}"));
    let swap = browser.url().split('?').next().unwrap_or_default().to_owned();

    browser.sign_in(&b.s.server.url(""), "ada");
    browser.visit(&b.s.server.url("/swaps"));
    assert_says(
        &browser.text("main"),
        &["One waits for you", "You give 1 m 1 f Poecilia wingei; you get 6 unsexed Xenotoca eiseni."],
    );
    look_at(&browser, &format!("board-swaps-{name}"));
    browser.visit(&swap);
    look_at(&browser, &format!("board-swap-to-answer-{name}"));
    browser.follow("form button.filled");
    assert_says(
        &browser.text("main"),
        &[
            "You have agreed to the swap.",
            "tarn swap pack",
            "zoe has not packed yet.",
            "Withdraw from the swap",
        ],
    );
    look_at(&browser, &format!("board-swap-agreed-{name}"));
    browser.visit(&b.s.server.url("/threads"));
    look_at(&browser, &format!("board-threads-{name}"));
}

#[test]
fn two_keepers_come_to_a_swap_on_a_phone() {
    walk(Screen::Phone, "phone");
}

#[test]
fn two_keepers_come_to_a_swap_at_a_desk() {
    walk(Screen::Desk, "desk");
}

fn form_of(page: &Seen, action: &str) -> Form {
    page.form(|form| form.action.ends_with(action))
        .unwrap_or_else(|| panic!("no form {action}:\n{}", page.html))
}

on_both_engines! {
    fn plain_forms_do_it_all(engine) {
        let b = Board::new(engine);
        let [ada, zoe] = ["ada", "zoe"].map(|login| {
            let visitor = Visitor::at(&b.s.server.url(""));
            visitor.sign_in(login).expect("they sign in");
            visitor
        });
        let page = ada.get("/notices/new").expect("a page");
        let form = form_of(&page, "/notices").with("kind", "to_swap").with("species", "Poecilia wingei")
            .with("stock", &format!("{}/{}", b.s.room, b.campo)).with("numbers", "2.3").with("exchange", "goodeids")
            .with("area", "Upper valley").with("pickup", "in_person");
        let page = ada.post(&form).expect("a page");
        assert!(page.status == 200 && page.html.contains("The notice stands."), "{}", page.html);
        let path = page.url.path().to_owned();
        // sent twice, it is one notice
        assert_eq!(ada.post(&form).expect("a page").url.path(), path);
        // the page that was open is older than what stands
        let old = form_of(&ada.get(&format!("{path}/edit")).expect("a page"), "/edit");
        ada.post(&old.clone().with("area", "Lower valley")).expect("a page");
        let page = ada.post(&old.with("area", "Far valley")).expect("a page");
        assert!(page.status == 412 && page.html.contains("Not changed. It was changed meanwhile"), "{}", page.html);
        assert_eq!(zoe.get(&format!("{path}/edit")).expect("a page").status, 404);

        let page = zoe.get(&path).expect("a page");
        assert!(page.html.contains("Lower valley") && !page.html.contains(&b.campo), "{}", page.html);
        let page = zoe.post(&form_of(&page, "/replies").with("text", "<script>alert(1)</script>")).expect("a page");
        assert!(!page.html.contains("<script>") && page.html.contains("alert(1)"), "{}", page.html);
        let unsigned = Form { action: format!("{path}/end"), ..Form::default() }.with("how", "done");
        assert_eq!(ada.post(&unsigned).expect("a page").status, 403, "a form without its token");
        let own = ada.get(&path).expect("a page");
        let ended = ada.post(&own.form(|f| f.fields.get("how").is_some_and(|how| how == "done")).expect("a form"));
        assert!(ended.expect("a page").html.contains("The notice is off the board."));
        assert_eq!(zoe.get(&path).expect("a page").status, 404);
        let again = ada.post(&form_of(&ada.get(&path).expect("a page"), "/again")).expect("a page");
        assert!(again.html.contains("The notice stands again."), "{}", again.html);

        let page = zoe.get("/swaps/new").expect("a page");
        let form = form_of(&page, "/swaps").with("to", "otto").with("ask_words", "A pair");
        let page = zoe.post(&form).expect("a page");
        assert!(page.status == 404 && page.html.contains("Nobody of your clubs"), "{}", page.html);
        let page = zoe.post(&form.with("to", "ada")).expect("a page");
        let swap = page.url.path().to_owned();
        assert!(page.html.contains("The swap is proposed."), "{}", page.html);
        // asked in words: she says which of hers it is to be
        let page = ada.get(&swap).expect("a page");
        let agree = form_of(&page, "/agree").with("give", &format!("{}/{}", b.s.room, b.campo));
        let page = ada.post(&agree.clone().with("give_numbers", "many")).expect("a page");
        assert!(page.status == 422 && page.html.contains("Not agreed."), "{}", page.html);
        let page = ada.post(&agree.with("give_numbers", "1.1")).expect("a page");
        assert!(page.html.contains("You have agreed to the swap."), "{}", page.html);
        let page = ada.post(&form_of(&page, "/withdraw")).expect("a page");
        assert!(page.html.contains("withdrawn"), "{}", page.html);
        let mia = Visitor::at(&b.s.server.url(""));
        mia.sign_in("mia").expect("mia signs in");
        assert_eq!(mia.get(&swap).expect("a page").status, 404);
        // who belongs to no club has neither entry in the menu; Otto's club has a board of its own
        let otto = Visitor::at(&b.s.server.url(""));
        let first = otto.sign_in("otto").expect("otto signs in");
        assert!(first.html.contains("href=\"/notices\""), "{}", first.html);
        assert_eq!(otto.get(&path).expect("a page").status, 404);
    }

    fn a_secretary_sets_how_long_notices_stand(engine) {
        let b = Board::new(engine);
        let wilma = Visitor::at(&b.s.server.url(""));
        wilma.sign_in("wilma").expect("wilma signs in");
        let page = wilma.get("/notices").expect("a page");
        assert!(page.html.contains("a notice stands for 60 days"), "{}", page.html);
        let form = form_of(&page, &format!("/boards/{}", b.s.club.id));
        for wrong in ["0", "366", "a few"] {
            let page = wilma.post(&form.clone().with("days", wrong)).expect("a page");
            assert!(page.status == 422 && page.html.contains("Not set.") && page.html.contains(wrong), "{}", page.html);
        }
        let page = wilma.post(&form.clone().with("days", "30")).expect("a page");
        assert!(page.html.contains("a notice stands for 30 days"), "{}", page.html);
        let ada = Visitor::at(&b.s.server.url(""));
        ada.sign_in("ada").expect("ada signs in");
        let page = ada.get("/notices").expect("a page");
        assert!(!page.html.contains("/boards/"), "{}", page.html);
        let forged = form_of(&page, "/sign-out");
        let forged = Form { action: form.action.clone(), ..forged }.with("days", "1");
        assert_eq!(ada.post(&forged).expect("a page").status, 404);
    }

    fn the_author_reads_why_others_do_not_see_it(engine) {
        let b = Board::new(engine);
        let notice = b.put_up();
        let before = messages(&b.s.ada).len();
        let thread = reply(&b.s.zoe, &notice, "Still there?");
        assert_eq!(messages(&b.s.ada).len(), before + 1);
        let node = id();
        let op = json!({"op": "stock.came_in", "stock": id(), "from": "shop", "tank": b.a2,
            "founders": {"node": node, "origin": "bought", "related": "not_known"},
            "rows": [{"node": node, "sex": "unsexed", "n": 4}]});
        tarn_tests::society::taken(&b.s.ada, &b.s.room, &[b.s.adas.op(op)]);
        let ada = Visitor::at(&b.s.server.url(""));
        ada.sign_in("ada").expect("ada signs in");
        let page = ada.get(&format!("/notices/{notice}")).expect("a page");
        assert!(page.html.contains("not shown") && page.html.contains("in quarantine"), "{}", page.html);
        assert!(ada.get("/notices?mine=true").expect("a page").html.contains("not shown"));
        let zoe = Visitor::at(&b.s.server.url(""));
        zoe.sign_in("zoe").expect("zoe signs in");
        assert!(!zoe.get("/notices").expect("a page").html.contains(&notice));
        let page = zoe.get(&format!("/threads/{thread}")).expect("a page");
        assert!(page.html.contains("It is not on the board now.") && !page.html.contains("quarantine"), "{}", page.html);
    }
}
