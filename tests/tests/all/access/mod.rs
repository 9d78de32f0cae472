//! Access to an account: the second factor in JSON, on pages and by the client, what a club asks of its officers, and
//! ending sessions.

mod doors;
mod ended;
mod letters;
mod young;

use hmac::{Hmac, KeyInit, Mac};
use serde_json::{Value, json};
use sha1::Sha1;
use tarn_tests::api::{Answer, Caller};
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;
use tarn_tests::keeper::Keeper;
use tarn_tests::on_both_engines;
use tarn_tests::pen::now_ms;
use tarn_tests::people::{Club, PASSWORD, Person};
use tarn_tests::server::Server;

use crate::pages::{assert_says, look_at};

const FACTOR: &str = "/api/v1/account/second-factor";

/// A phone: it was given a secret, and shows a code (RFC 6238) for so many steps from now.
struct Phone(Vec<u8>);

impl Phone {
    /// Reads what a person would type: base32 in fours.
    fn new(written: &str) -> Self {
        let signs = written.bytes().filter(u8::is_ascii_alphanumeric);
        let values = signs.map(|sign| if sign.is_ascii_digit() { sign - b'2' + 26 } else { sign - b'A' });
        let bits: Vec<u8> = values.flat_map(|value| (0..5).map(move |i| value >> (4 - i) & 1)).collect();
        Self(bits.chunks_exact(8).map(|byte| byte.iter().fold(0, |all, bit| all << 1 | bit)).collect())
    }

    fn shows(&self, steps: i64) -> String {
        let mut mac = Hmac::<Sha1>::new_from_slice(&self.0).expect("any length");
        mac.update(&(now_ms() / 30_000 + steps).to_be_bytes());
        let sum = mac.finalize().into_bytes();
        let from = usize::from(sum[19] & 15);
        let bits = sum[from..from + 4].iter().fold(0_u32, |all, byte| all << 8 | u32::from(*byte));
        format!("{:06}", (bits & 0x7fff_ffff) % 1_000_000)
    }
}

fn begin(who: &Person) -> Phone {
    let told = who.caller.post(FACTOR, &json!({"password": PASSWORD})).expect(201).json();
    let phone = Phone::new(told["secret"].as_str().expect("a secret"));
    assert_eq!(phone.0.len(), 20);
    phone
}

/// Sets it up; the phone and the recovery codes.
fn set_up(who: &Person) -> (Phone, Vec<String>) {
    let phone = begin(who);
    let told =
        who.caller.post(&format!("{FACTOR}/confirm"), &json!({"code": phone.shows(-1)})).expect(200).json();
    let codes: Vec<String> = serde_json::from_value(told["recovery_codes"].clone()).expect("codes");
    assert_eq!(codes.len(), 10);
    (phone, codes)
}

fn sign_in(at: &Caller, login: &str, code: Option<&str>) -> Answer {
    let mut body = json!({"login_name": login, "password": PASSWORD});
    if let Some(code) = code {
        body["code"] = code.into();
    }
    at.post("/api/v1/sessions", &body)
}

on_both_engines! {
    fn a_second_factor_is_asked_for_and_each_code_is_good_once(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let (mira, at) = (club.member("mira", None), Caller::stranger(&server));
        let elsewhere = mira.sign_in(&at);
        mira.caller.post(FACTOR, &json!({"password": "three buckets by the gate"})).problem(401, "sign-in-failed");
        begin(&mira);
        // begun is not on
        sign_in(&at, "mira", None).expect(200);
        assert_eq!(mira.caller.get(FACTOR).expect(200).json()["begun"], true);
        let (phone, codes) = set_up(&mira);
        let told = mira.caller.get(FACTOR).expect(200).json();
        assert_eq!((&told["on"], &told["recovery_codes_left"]), (&json!(true), &json!(10)));
        mira.caller.post(FACTOR, &json!({"password": PASSWORD})).problem(409, "second-factor-on");
        let list = mira.caller.get("/api/v1/sessions").expect(200).json();
        assert_eq!(list.as_array().map(Vec::len), Some(1), "all other sessions ended");
        elsewhere.caller.post(FACTOR, &json!({"password": PASSWORD})).problem(401, "session-ended");

        sign_in(&at, "mira", None).problem(401, "second-factor-needed");
        // the one that confirmed it was used by that
        sign_in(&at, "mira", Some(&phone.shows(-1))).problem(422, "code-wrong");
        let code = phone.shows(1);
        sign_in(&at, "mira", Some(&code)).expect(200);
        sign_in(&at, "mira", Some(&code)).problem(422, "code-wrong");
        sign_in(&at, "mira", Some(&codes[0].to_lowercase())).expect(200);
        sign_in(&at, "mira", Some(&codes[0])).problem(422, "code-wrong");
        let told = mira.caller.get("/api/v1/messages").expect(200).json();
        let told: Vec<&Value> = told["messages"].as_array().into_iter().flatten().collect();
        assert_eq!(told.len(), 1, "told once a day: {told:?}");
        let kept = server.database();
        assert_eq!(kept.count("SELECT count(*) FROM recovery_codes WHERE used_ms IS NULL"), 9);

        let both = |code: &str| json!({"password": PASSWORD, "code": code});
        let renewed = mira.caller.post(&format!("{FACTOR}/recovery-codes"), &both(&codes[1])).expect(200).json();
        sign_in(&at, "mira", Some(&codes[2])).problem(422, "code-wrong");
        let fresh = |i: usize| renewed["recovery_codes"][i].as_str().expect("a code").to_owned();
        // a short password will do beside it, and has to go before it does
        let change = |old: &str, new: &str, code: &str| {
            let body = json!({"old_password": old, "new_password": new, "code": code});
            mira.caller.put("/api/v1/account/password", &body)
        };
        change(PASSWORD, "seven k", &fresh(2)).problem(422, "password-weak");
        change(PASSWORD, "nine kett", &fresh(2)).expect(204);
        let end = |password: &str, code: &str| {
            mira.caller.post(&format!("{FACTOR}/end"), &json!({"password": password, "code": code}))
        };
        end("nine kett", &fresh(0)).problem(422, "password-weak");
        change("nine kett", PASSWORD, &fresh(3)).expect(204);
        end(PASSWORD, "000000").problem(422, "code-wrong");
        end(PASSWORD, &fresh(0)).expect(204);
        sign_in(&at, "mira", None).expect(200);
        end(PASSWORD, &fresh(1)).problem(409, "no-second-factor");
    }

    fn wrong_codes_are_slowed_down_and_a_right_password_does_not_forgive_them(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let (mira, at) = (club.member("mira", None), Caller::stranger(&server));
        let (_, codes) = set_up(&mira);
        for _ in 0..10 {
            sign_in(&at, "mira", None).problem(401, "second-factor-needed");
            sign_in(&at, "mira", Some("AAAA-AAAA-AAAA-AAAA")).problem(422, "code-wrong");
        }
        let held_up = sign_in(&at, "mira", Some(&codes[0]));
        held_up.problem(429, "too-many-tries");
        assert!(held_up.headers.contains_key("retry-after"));
        sign_in(&at, "ines", None).expect(200);

        // the operator takes it away, and the officers hear of it
        let reset = server.command(&["account", "reset", "--login", "mira"]).expect(0);
        assert!(reset.stderr.contains("The second factor is gone"), "{}", reset.stderr);
        let told = club.secretary.caller.get("/api/v1/messages").expect(200).text;
        assert!(told.contains("took away the second factor of mira"), "{told}");
        let body = json!({"login_name": "mira", "password": reset.stdout.trim()});
        at.post("/api/v1/sessions", &body).expect(200);
        let facts = server.database().count(
            "SELECT count(*) FROM audit_facts WHERE fact LIKE 'second factor of account % taken away by the operator'",
        );
        assert_eq!(facts, 1);
    }

    fn an_officer_without_the_factor_the_club_wants_is_a_member(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let (ines, tess) = (&club.secretary, club.member("tess", Some("treasurer")));
        let wanted = format!("/api/v1/clubs/{}/second-factor", club.id);
        let people = format!("/api/v1/clubs/{}/people", club.id);
        tess.caller.put(&wanted, &json!({"required": true})).problem(403, "role-missing");
        ines.caller.put(&wanted, &json!({"required": true})).problem(403, "second-factor-required");
        set_up(ines);
        ines.caller.put(&wanted, &json!({"required": true})).expect(204);
        assert_eq!(ines.caller.get(&people).expect(200).status, 200, "her own role counts");
        let no = tess.caller.get(&people).problem(403, "second-factor-required");
        assert!(no["detail"].as_str().is_some_and(|d| d.contains("Set yours up on the page of your account")), "{no}");
        let told = tess.caller.get("/api/v1/account").expect(200).json();
        assert_eq!((&told["clubs"][0]["roles"], &told["clubs"][0]["waiting_roles"]), (&json!([]), &json!(["treasurer"])));
        let shown = tess.caller.get(&format!("/api/v1/clubs/{}", club.id)).expect(200).json();
        assert_eq!(shown["second_factor_required"], true, "a member's rights are left");
        set_up(&tess);
        tess.caller.get(&people).expect(200);
        // taken away again, the role waits again
        let reset = server.command(&["account", "reset", "--login", "tess"]).expect(0);
        let body = json!({"login_name": "tess", "password": reset.stdout.trim()});
        let back = Caller::stranger(&server).post("/api/v1/sessions", &body).expect(200).json();
        let back = tess.caller.with_token(back["access_token"].as_str().expect("a token"));
        back.get(&people).problem(403, "second-factor-required");
        ines.caller.put(&wanted, &json!({"required": false})).expect(204);
        back.get(&people).expect(200);
    }

    fn all_other_sessions_are_ended_at_once(engine) {
        let server = Server::start(engine);
        let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
        let (mira, at) = (club.member("mira", None), Caller::stranger(&server));
        let others = [mira.sign_in(&at), mira.sign_in(&at)];
        mira.caller.delete("/api/v1/sessions/others").expect(204);
        let left = mira.caller.get("/api/v1/sessions").expect(200).json();
        assert_eq!((left.as_array().map(Vec::len), &left[0]["current"]), (Some(1), &json!(true)));
        for other in others {
            other.caller.delete("/api/v1/sessions/others").problem(401, "session-ended");
        }
    }
}

#[test]
fn the_client_takes_a_code() {
    let server = Server::start(Engine::Sqlite);
    let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
    let (_, codes) = set_up(&club.member("mira", None));
    let keeper = Keeper::new("mira");
    let url = server.url("");
    let login = ["login", url.as_str(), "--login", "mira", "--password-stdin"];
    let password = format!("{PASSWORD}\n");
    let asked = keeper.run_with_input(&login, &password).expect(4);
    assert!(asked.stderr.contains("--code CODE"), "{}", asked.stderr);
    let with_code = [&login[..], &["--code", &codes[0]]].concat();
    keeper.run_with_input(&with_code, &password).expect(0);
    keeper.run_with_input(&with_code, &password).expect(1);
}

#[test]
fn an_officer_sets_a_second_factor_up_on_a_phone() {
    let server = Server::start(Engine::Sqlite);
    let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
    // her other session, by which they are invited, ends below
    club.member("tess", Some("treasurer"));
    club.member("sten", Some("health_steward"));
    let browser = Browser::start(Screen::Phone);
    browser.sign_in(&server.url(""), "ines");
    let here = server.url(&format!("/clubs/{}", club.id));
    browser.visit(&here);
    assert_says(&browser.text("main"), &["To want a second factor of them, set up your own first."]);
    browser.visit(&server.url("/account"));
    assert_says(&browser.text("#access"), &["Off: who learns your password can sign in as you."]);
    look_at(&browser, "account-access");
    browser.follow("form[action='/account/sessions/end-others'] button");
    assert_says(&browser.text("main"), &["All other sessions have ended.", "here and nowhere else"]);
    browser.follow("#access .go[href$='second-factor']");
    browser.fill("#password", "not the password");
    browser.follow("main form button");
    assert_says(&browser.text(".errors"), &["Not done."]);
    look_at(&browser, "factor-wrong");
    browser.fill("#password", PASSWORD);
    browser.follow("main form button");
    look_at(&browser, "factor-secret");
    let phone = Phone::new(&browser.text(".secret"));
    browser.fill("#code", &phone.shows(-1));
    browser.follow("main form button");
    assert_eq!(browser.count(".codes li"), 10);
    look_at(&browser, "factor-codes");
    let recovery = browser.text(".codes li");
    browser.follow("main .go");
    assert_says(
        &browser.text("main"),
        &["You sign in with a code beside your password", "10 recovery codes are left."],
    );
    look_at(&browser, "factor-on");
    browser.visit(&here);
    browser.follow("form[action$='/second-factor'] button");
    assert_says(&browser.text("main"), &["Who has no second factor is a member until it is set up."]);
    look_at(&browser, "club-factor");

    browser.sign_in(&server.url(""), "ines");
    assert_says(&browser.text("main"), &["Your password is right. Now the code"]);
    browser.fill("#code", "000 000");
    browser.follow("main button");
    assert_says(&browser.text(".errors"), &["Not signed in. This code is not good"]);
    look_at(&browser, "sign-in-code");
    browser.fill("#code", &recovery);
    browser.follow("main button");
    browser.visit(&server.url("/account"));
    assert_says(&browser.text("#access"), &["On: you sign in with a code"]);

    let desk = Browser::start(Screen::Desk);
    desk.sign_in(&server.url(""), "tess");
    desk.visit(&here);
    assert_says(&desk.text("main"), &["Treasurer: this waits for your second factor.", "You are member."]);
    look_at(&desk, "club-waiting");
    desk.visit(&server.url("/account"));
    assert_says(&desk.text("main"), &["once you have a second factor. Until then you are a member."]);
    look_at(&desk, "account-waiting");
    desk.sign_in(&server.url(""), "sten");
    desk.visit(&server.url("/sign-off"));
    assert_says(&desk.text("main"), &["Kettle Lane Fishkeepers wants a second factor of its officers."]);
}
