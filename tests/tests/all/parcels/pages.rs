//! The pages of parcels in a real browser: what each side reads, and what officers and stewards decide.

use serde_json::json;
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;
use tarn_tests::pen::{id, tank};

use super::officers::on_the_way;
use crate::lineage::{Of, Rooms};
use crate::pages::{assert_says, look_at};

fn walk(screen: Screen, name: &str) {
    let (mut rooms, adas, _) = Rooms::new(Engine::Sqlite);
    let (parcel, young) = on_the_way(&mut rooms, &adas);

    let browser = Browser::start(screen);
    browser.sign_in(&rooms.s.server.url(""), "zoe");
    browser.visit(&rooms.s.server.url("/parcels"));
    assert_says(&browser.text("main"), &["One is in the bag or on its way.", "6 fish to zoe", "on its way"]);
    look_at(&browser, &format!("parcels-{name}"));
    browser.follow("main .entry a");
    assert_says(&browser.text("main"), &["tarn parcel arrive", "PW-1, not sexed"]);
    look_at(&browser, &format!("parcel-on-its-way-{name}"));

    rooms.write(Of::Zoe, json!({"op": "parcel.arrived", "parcel": parcel, "stock": id(),
        "alive": [{"node": young.node, "sex": "unsexed", "n": 4}], "dead": [{"node": young.node, "sex": "unsexed", "n": 1}]}));
    rooms.until(|| rooms.ops(Of::Ada, "parcel.received").pop());
    browser.sign_in(&rooms.s.server.url(""), "ada");
    browser.visit(&rooms.s.server.url(&format!("/parcels/{parcel}")));
    assert_says(&browser.text("main"), &["numbers differ", "1 fewer arrived than were sent", "Still open"]);
    look_at(&browser, &format!("parcel-differs-{name}"));

    rooms.wait(15);
    browser.sign_in(&rooms.s.server.url(""), "wilma");
    browser.visit(&rooms.s.server.url("/parcels"));
    assert_says(&browser.text("main"), &["One of your club waits for an officer.", "To settle"]);
    browser.follow("main .entry a");
    browser.click("textarea");
    browser.follow("button.filled");
    assert_says(&browser.text(".errors"), &["Not settled.", "what became of the fish"]);
    look_at(&browser, &format!("parcel-settle-errors-{name}"));
    browser.click("input[value=lost]");
    browser.fill("#why", "Five were in the bag when it was opened; both say so.");
    browser.follow("button.filled");
    assert_says(&browser.text("main"), &["You have no parcel."]);

    rooms.s.club.member("stella", Some("health_steward"));
    let (stock, node, place) = (id(), id(), tank("Q1"));
    rooms.write(Of::Ada, place.clone());
    rooms.write(
        Of::Ada,
        json!({"op": "stock.came_in", "stock": stock, "from": "shop", "tank": place["tank"],
        "founders": {"node": node, "origin": "bought", "related": "not_known"},
        "rows": [{"node": node, "sex": "unsexed", "n": 8}]}),
    );
    browser.sign_in(&rooms.s.server.url(""), "stella");
    browser.visit(&rooms.s.server.url("/sign-off"));
    browser.follow("main a[href^='/units/'], main a[href^='/sign-off/']");
    browser.follow("a[href^='/parcels/agree/']");
    assert_says(
        &browser.text("main"),
        &["Nothing is cleared.", "The law on live transport", "The one stock of this unit"],
    );
    browser.fill("#to", "nobody");
    browser.fill("#why", "The heating is out.");
    browser.follow("button.filled");
    assert_says(&browser.text(".errors"), &["Not agreed.", "Nobody here has this login name."]);
    look_at(&browser, &format!("parcel-agree-errors-{name}"));
    browser.fill("#to", "zoe");
    browser.follow("button.filled");
    assert_says(&browser.url(), &["/units/"]);
    assert_eq!(rooms.ops(Of::Ada, "parcel.agreed").len(), 1);
}

#[test]
fn parcels_are_read_and_settled_on_a_phone() {
    walk(Screen::Phone, "phone");
}

#[test]
fn parcels_are_read_and_settled_at_a_desk() {
    walk(Screen::Desk, "desk");
}
