//! A new secretary's first quarter of an hour, in a real browser; and an officer's desk.

use serde_json::json;
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;
use tarn_tests::people::{Club, PASSWORD};
use tarn_tests::server::Server;

use super::people;
use crate::pages::{assert_says, look_at};

fn begin(browser: &Browser, server: &Server) -> String {
    let said = server.command(&["officer", "add", "--login", "ines", "--club", "Kettle Lane Fishkeepers"]);
    let said = said.expect(0).stdout;
    browser.visit(&server.url(&format!("/invitation?token={}", said.trim())));
    for (field, text) in [("login_name", "ines"), ("shown_name", "Ines"), ("email", "ines@example.org")] {
        browser.fill(&format!("#{field}"), text);
    }
    browser.fill("#password", PASSWORD);
    browser.follow("button.filled");
    browser.visit(&server.url("/clubs"));
    browser.url()
}

#[test]
fn a_new_secretary_leads_a_club_in_in_five_steps() {
    let server = Server::start(Engine::Sqlite);
    let browser = Browser::start(Screen::Phone);
    let club = begin(&browser, &server);
    assert!(club.contains("/clubs/"), "the only club at once: {club}");
    assert_says(&browser.text("main"), &["4 of 5 steps are left", "Adopt the quarantine rule"]);
    look_at(&browser, "club-begin");

    browser.fill("#min_days", "none");
    browser.follow("#adopt button");
    assert_says(&browser.text(".errors"), &["Days of quarantine are a number from 1 to 365."]);
    browser.fill("#min_days", "42");
    browser.follow("#adopt button");
    assert_says(&browser.text("main"), &["The rule is adopted.", "42 days", "3 of 5 steps"]);

    browser.visit(&format!("{club}/people/sheet"));
    look_at(&browser, "club-sheet");
    browser.fill("#sheet", "number,name,paid_until\n7,Ida Brook,2199-12-31\n8,Otto Fenn,soon\n");
    browser.follow("main form button");
    assert_says(&browser.text(".errors"), &["Line 3, paid_until: A day is written as 2026-12-31."]);
    look_at(&browser, "club-sheet-wrong");
    browser.fill("#sheet", "number,name,paid_until\n7,Ida Brook,2199-12-31\n8,Otto Fenn,2020-12-31\n");
    browser.follow("main form button");
    assert_says(&browser.text("main"), &["2 put on the list, 0 written anew, 0 as they were."]);

    browser.visit(&format!("{club}/people"));
    assert_says(
        &browser.text("main"),
        &["3 people stand on the list, 1 with a login. 1 with something to pay.", "Owes since 2020-12-31"],
    );
    look_at(&browser, "club-people");
    browser.follow("table a");
    look_at(&browser, "club-person");
    browser.follow("form[action$='/invitation'] button");
    let link = browser.text(".secret");
    assert!(link.starts_with(&server.url("/invitation?token=")), "{link}");
    look_at(&browser, "club-invited");

    // Ida opens it somewhere else
    let ida = Browser::start(Screen::Phone);
    ida.visit(&link);
    for (field, text) in [("login_name", "ida"), ("shown_name", "Ida"), ("email", "ida@example.org")] {
        ida.fill(&format!("#{field}"), text);
    }
    ida.fill("#password", PASSWORD);
    ida.follow("button.filled");
    ida.visit(&club);
    assert_says(&ida.text("main"), &["2 people sign in here.", "You are member."]);
    assert_eq!(ida.count("#begin"), 0, "the steps are the secretary's");
    look_at(&ida, "club-member");

    browser.visit(&format!("{club}/people"));
    browser.follow("table a");
    assert_says(&browser.text("main"), &["Has a login, and is called Ida by others."]);
    browser.script("document.querySelector('#role').value = 'health_steward'", vec![]);
    browser.follow("form[action$='/roles'] .deeds button");
    assert_says(&browser.text("main"), &["The roles are as you said.", "Health steward"]);
    look_at(&browser, "club-person-officer");
    browser.visit(&club);
    assert_eq!(browser.count("#begin"), 0, "nothing is left to begin with");
    assert_says(&browser.text("main"), &["Health steward"]);
    look_at(&browser, "club");
}

#[test]
fn an_officer_keeps_the_list_at_a_desk() {
    let server = Server::start(Engine::Sqlite);
    let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
    let otto = club.member("otto", None);
    club.member("tess", Some("treasurer"));
    let browser = Browser::start(Screen::Desk);
    browser.sign_in(&server.url(""), "ines");
    let here = server.url(&format!("/clubs/{}", club.id));
    browser.visit(&format!("{here}/people"));
    browser.fill("#name", "Nell Marsh");
    browser.fill("#paid_until", "2199");
    browser.follow("form[action$='/people'] button");
    assert_says(&browser.text(".errors"), &["A day is written as 2026-12-31."]);
    look_at(&browser, "club-people-wrong");
    browser.fill("#paid_until", "2199-12-31");
    browser.follow("form[action$='/people'] button");
    assert_says(
        &browser.text("main"),
        &["They stand on the list now.", "Nell Marsh", "Paid until 2199-12-31"],
    );
    look_at(&browser, "club-people-desk");

    browser.fill("#invite_email", "not an address");
    browser.follow("form[action$='/invitations'] button");
    assert_says(&browser.text(".errors"), &["This does not look like an e-mail address."]);
    browser.fill("#invite_email", "una@example.org");
    browser.follow("form[action$='/invitations'] button");
    browser.follow("main .go");
    assert_says(&browser.text("main"), &["una@example.org"]);
    browser.follow("form[action$='/invitations/end'] button");
    assert_says(&browser.text("main"), &["The invitation is taken back."]);

    // the last secretary stays; a member goes
    browser.visit(&here);
    browser.follow("form[action$='/leave'] button");
    assert_says(&browser.text(".errors"), &["The last secretary keeps the role"]);
    let line = people(&club.secretary, &club.id).into_iter().find(|one| one["name"] == "otto").expect("otto");
    browser.visit(&format!("{here}/people/{}", line["person"].as_str().expect("an id")));
    browser.follow("form[action$='/strike'] button");
    assert_says(&browser.text("main"), &["They stand on the list no longer."]);
    assert_eq!(otto.caller.get("/api/v1/account").expect(200).json()["clubs"], json!([]));

    // a treasurer reads
    let tess = Browser::start(Screen::Desk);
    tess.sign_in(&server.url(""), "tess");
    tess.visit(&format!("{here}/people"));
    assert_eq!(tess.count("main form"), 0);
    tess.follow("table a");
    assert_eq!(tess.count("main form"), 0);
    look_at(&tess, "club-person-treasurer");
}
