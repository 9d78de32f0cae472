//! The water of a room: what was read, what it means, how much there is, and a label's rate; over JSON on both engines,
//! and in a real browser on a phone and at a desk, light and dark.

use serde_json::{Value, json};
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{self, Pen, id};
use tarn_tests::site::Visitor;
use tarn_tests::society::{Society, taken};

const DAY: i64 = 86_400_000;

/// Ada's loop B, read for a month with ten days left out; a tank of her own water; and a loop of which too little is
/// known.
struct Waters {
    society: Society,
    loop_b: String,
    sill: String,
    attic: String,
    /// On loop B.
    b1: String,
}

/// An op of some days ago.
fn dated(pen: &Pen, days: i64, body: Value) -> Value {
    let mut op = pen.op(body);
    // never after the pen's own clock, which began before now
    let at = pen::clock(pen::now_ms() - (days * DAY).max(60_000));
    op["at"] = format!("{}Z", &at[..19]).into();
    op
}

fn value(what: &str, typed: &str, unit: &str, milli: i64) -> Value {
    json!({"what": what, "typed": typed, "unit": unit, "milli": milli})
}

impl Waters {
    fn new(engine: Engine) -> Self {
        let society = Society::new(engine);
        let pen = &society.adas;
        let [loop_b, attic, b1, sill] = [id(), id(), id(), id()];
        let tank = |tank: &str, name: &str, holds: u32, displaced: Option<u32>| {
            let mut op = json!({"op": "tank.added", "tank": tank, "name": name, "volume_ml": holds});
            if let Some(displaced) = displaced {
                op["displacement_ml"] = displaced.into();
            }
            op
        };
        let mut ops = vec![
            dated(
                pen,
                90,
                json!({"op": "water.system_set", "system": loop_b, "name": "Loop B", "sump_ml": 90_000,
                    "pipes_ml": 10_000, "displacement_ml": 40_000}),
            ),
            dated(
                pen,
                90,
                json!({"op": "water.system_set", "system": attic, "name": "Attic", "sump_ml": 5_000}),
            ),
            dated(pen, 90, tank(&b1, "B1", 380_000, None)),
            dated(pen, 90, tank(&sill, "Window sill", 54_000, Some(0))),
            dated(pen, 89, json!({"op": "tank.plumbed", "tank": b1, "system": loop_b})),
        ];
        // as in the sample of the look: ten days without a reading, 6.6 today
        let month = [
            (30, 7_600),
            (27, 7_500),
            (24, 7_500),
            (21, 7_400),
            (18, 7_300),
            (8, 6_900),
            (5, 6_800),
            (2, 6_700),
            (0, 6_600),
        ];
        for (days, milli) in month {
            let typed = format!("{}.{}", milli / 1000, milli / 100 % 10);
            let celsius = 24_000 + days * 40;
            let mut values = vec![
                value("ph", &typed, "", milli),
                value("temperature", &format!("{}.{:02}", celsius / 1000, celsius / 10 % 100), "C", celsius),
            ];
            if days == 30 {
                // UF/IFAS FA031, figure 3: total 1.0 mg/L at pH 8.0 and 24 °C is 0.0502 mg/L un-ionised
                values = vec![
                    value("ph", "8,0", "", 8_000),
                    value("temperature", "75.2", "F", 24_000),
                    value("ammonia", "1", "mg/l NH3", 1_000),
                ];
            }
            ops.push(dated(pen, days, json!({"op": "water.read", "system": loop_b, "values": values})));
        }
        let strong = [
            value("ph", "8.4", "", 8_400),
            value("temperature", "28", "C", 28_000),
            value("ammonia", "0.5", "mg/l NH4", 472),
        ];
        ops.push(dated(pen, 1, json!({"op": "water.read", "tank": sill, "values": strong})));
        // read in a tank of the loop, it is the loop's; with <, it is shown as it was typed
        ops.push(dated(
            pen,
            3,
            json!({"op": "water.read", "tank": b1, "values": [value("kh", "<4", "dH", 4_000)]}),
        ));
        taken(&society.ada, &society.room, &ops);
        Self { society, loop_b, sill, attic, b1 }
    }

    fn page(&self, water: &str) -> String {
        format!("/rooms/{}/water/{water}", self.society.room)
    }

    fn url(&self, path: &str) -> String {
        self.society.server.url(path)
    }
}

#[track_caller]
fn assert_says(text: &str, words: &[&str]) {
    let plain = text.replace('\u{a0}', " ");
    for word in words {
        assert!(plain.contains(word), "{word:?} is not in:\n{plain}");
    }
}

/// Looks at the page in light, dark and on the narrowest screen, and keeps pictures of it.
#[track_caller]
fn look_at(browser: &Browser, name: &str) {
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

fn walk(screen: Screen, name: &str) {
    let waters = Waters::new(Engine::Sqlite);
    let browser = Browser::start(screen);
    browser.sign_in(&waters.url(""), "ada");
    browser.follow(".links .go");
    assert!(browser.url().ends_with("/water"), "{}", browser.url());
    assert_says(
        &browser.text("main"),
        &["Un-ionised ammonia may harm fish in Window sill.", "440 l", "Not known. Missing:", "6.6, today"],
    );
    look_at(&browser, &format!("water-{name}"));

    browser.visit(&waters.url(&waters.page(&waters.loop_b)));
    assert_says(
        &browser.text("main"),
        &[
            "440 l net. Last read today: pH 6.6",
            "tanks 380 l + sump 90 l + pipes and filters 10 l − sand, stones, wood and gear 40 l",
            "No reading for 10 days after",
            "75.2 F",
            "in B1",
            "un-ionised 0.050 mg/L NH3: may harm",
            "Never two medicines together.",
        ],
    );
    // one of the two drawings is shown, and has a name for who does not see it
    let shown = "return [...document.querySelectorAll('#trend-ph ~ div svg')].filter(s => s.getClientRects().length)
        .map(s => s.getAttribute('role') + ' ' + s.viewBox.baseVal.width + ' ' + s.getAttribute('aria-label'))";
    let shown = browser.script(shown, vec![]);
    let width = if screen == Screen::Phone { "img 358 pH of Loop B." } else { "img 860 pH of Loop B." };
    assert_eq!(shown.as_array().map(Vec::len), Some(1), "{shown}");
    assert!(shown[0].as_str().unwrap_or_default().starts_with(width), "{shown}");
    look_at(&browser, &format!("water-loop-{name}"));

    browser.fill("#rate", "1 tsp per 40 l");
    browser.follow("form.fields button");
    assert_says(&browser.text(".errors"), &["Not reckoned."]);
    assert_says(&browser.text(".wrong-answer"), &["a tsp is no measure"]);
    look_at(&browser, &format!("water-rate-error-{name}"));
    browser.fill("#rate", "5 ml per 40 l");
    browser.follow("form.fields button");
    assert_says(&browser.text(".said"), &["5 ml per 40 l, 440 l net: 55 ml"]);
    look_at(&browser, &format!("water-rate-{name}"));
}

#[test]
fn a_keeper_reads_their_water_on_a_phone() {
    walk(Screen::Phone, "phone");
}

#[test]
fn a_keeper_reads_their_water_at_a_desk() {
    walk(Screen::Desk, "desk");
}

on_both_engines! {
    fn waters_are_told_over_json(engine) {
        let waters = Waters::new(engine);
        let (ada, room) = (&waters.society.ada, &waters.society.room);
        let told = ada.caller.get(&format!("/api/v1/rooms/{room}/water")).expect(200).json();
        let of = |kind: &str, id: &str| {
            let all = told["waters"].as_array().into_iter().flatten();
            all.clone().find(|w| w[kind] == id).unwrap_or_else(|| panic!("{id} is not in {told}")).clone()
        };
        assert_eq!(told["waters"].as_array().map(Vec::len), Some(3), "{told}");
        let loop_b = of("system", &waters.loop_b);
        assert_eq!(loop_b["net"]["ml"], 440_000);
        assert_eq!(loop_b["gross"]["parts"][0], json!({"part": "tanks", "ml": 380_000}));
        let newest = |what: &str| {
            let all = loop_b["newest"].as_array().into_iter().flatten();
            all.clone().find(|r| r["value"]["what"] == what).cloned().unwrap_or_default()
        };
        assert_eq!(newest("ph")["value"]["milli"], 6_600);
        assert_eq!(newest("kh")["value"]["typed"], "<4");
        let share = loop_b["ammonia"]["unionised_mg_l_nh3"].as_f64().expect("reckoned");
        assert!((share - 0.0502).abs() < 6e-5, "{share}");
        assert_eq!(of("tank", &waters.sill)["ammonia"]["may_harm"], true);
        let attic = of("system", &waters.attic);
        assert_eq!(attic["net"]["ml"], Value::Null);
        assert_eq!(attic["net"]["missing"][0], json!({"missing": "no_tanks"}));
    }

    fn a_room_s_water_is_its_keepers(engine) {
        let waters = Waters::new(engine);
        let room = format!("/rooms/{}/water", waters.society.room);
        let zoe = Visitor::at(&waters.url(""));
        zoe.sign_in("zoe").expect("zoe signs in");
        for path in [&room, &waters.page(&waters.loop_b)] {
            assert!(Visitor::at(&waters.url("")).get(path).expect("a page").is_sign_in(), "{path}");
            assert_eq!(zoe.get(path).expect("a page").status, 404, "{path}");
        }
        waters.society.zoe.caller.get(&format!("/api/v1{room}")).problem(404, "not-found");
        let ben = Visitor::at(&waters.url(""));
        ben.sign_in("ben").expect("ben signs in");
        assert_eq!(ben.get(&waters.page(&id())).expect("a page").status, 404);
        // a tank on a loop has its water
        let page = ben.get(&waters.page(&waters.b1)).expect("a page");
        assert!(page.url.path().ends_with(&waters.loop_b) && page.status == 200, "{}", page.url);
        assert!(page.html.contains("&lt;4") || page.html.contains("&#60;4"), "{}", page.html);
        // without a volume nothing is multiplied, whatever is asked for
        let attic = ben.get(&format!("{}?rate=5+ml+per+40+l", waters.page(&waters.attic))).expect("a page");
        assert!(attic.html.contains("Nothing can be multiplied") && !attic.html.contains("role=\"status\""), "{}", attic.html);
    }
}
