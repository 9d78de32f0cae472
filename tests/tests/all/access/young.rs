//! Members under age: their guardian makes the account and answers for it; nobody else reads the name, writes to them, or
//! deals with them in money.

use serde_json::{Value, json};
use tarn_tests::api::{Answer, Caller};
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{Pen, id};
use tarn_tests::people::{Club, PASSWORD, Person};
use tarn_tests::society::{Society, register, taken};

use super::set_up;
use crate::clubs::{named, people, put, token_of};
use crate::pages::{assert_says, look_at};

const NAME: &str = "Finn Kelp";
const OTHER: &str = "seven buckets behind the shed";

fn make(s: &Society, guardian: &Person, login: &str, agreed: bool) -> Answer {
    let body = json!({"login_name": login, "name": NAME, "password": PASSWORD, "agreed": agreed});
    guardian.caller.post(&format!("/api/v1/clubs/{}/young", s.club.id), &body)
}

fn sign_in(s: &Society, login: &str, password: &str) -> Caller {
    let told = s.stranger().post("/api/v1/sessions", &json!({"login_name": login, "password": password}));
    let told = told.expect(200).json();
    s.stranger().with_token(told["access_token"].as_str().expect("a token"))
}

fn post_notice(s: &Society, by: &Caller, notice: &str, price: Option<Value>) -> Answer {
    let mut says = json!({"kind": "wanted", "species": "Poecilia wingei", "area": "Harbour", "pickup": true,
        "posting": false});
    if let Some(price) = price {
        says["price"] = price;
    }
    by.post("/api/v1/notices", &json!({"id": notice, "club": s.club.id, "notice": says}))
}

fn line() -> Value {
    json!({"id": id(), "text": "I have some."})
}

on_both_engines! {
    fn the_young_deal_with_nobody_and_nobody_reads_their_name(engine) {
        let s = Society::new(engine);
        make(&s, &s.ada, "finn", false).problem(422, "invalid");
        let made = make(&s, &s.ada, "finn", true).expect(201).json();
        let account = made["account"].as_str().expect("an id").to_owned();
        let finn = sign_in(&s, "finn", PASSWORD);
        assert_eq!(finn.get("/api/v1/account").expect(200).json()["shown_name"], "a young member");
        // the club's officers know who it is; members don't
        let club = format!("/api/v1/clubs/{}", s.club.id);
        let members = s.zoe.caller.get(&club).expect(200).text;
        assert!(members.contains("a young member") && !members.contains(NAME), "{members}");
        let list = s.club.secretary.caller.get(&format!("{club}/people")).expect(200).text;
        assert!(list.contains(NAME), "{list}");
        let role = format!("{club}/members/{account}/roles/librarian");
        s.club.secretary.caller.put(&role, &json!({})).problem(403, "by-guardian");
        let as_finn = Person { login: "finn".into(), account: account.clone(), caller: finn.clone() };
        make(&s, &as_finn, "otto", true).problem(403, "by-guardian");

        // no price; and an answer goes to the guardian
        let (own, zoes) = (id(), id());
        let price = json!({"minor": 500, "currency": "EUR"});
        let no = post_notice(&s, &finn, &own, Some(price.clone())).problem(403, "by-guardian");
        assert_eq!(no["errors"][0]["pointer"], "/price");
        post_notice(&s, &finn, &own, None).expect(201);
        post_notice(&s, &s.zoe.caller, &zoes, Some(price)).expect(201);
        let read = s.zoe.caller.get(&format!("/api/v1/notices/{own}")).expect(200).text;
        assert!(read.contains("a young member") && !read.contains(NAME), "{read}");
        s.zoe.caller.post(&format!("/api/v1/notices/{own}/replies"), &line()).expect(201);
        s.ada.caller.post(&format!("/api/v1/notices/{own}/replies"), &line()).problem(409, "own-notice");
        let threads = |who: &Caller| who.get("/api/v1/threads").expect(200).json()["threads"].as_array().map_or(0, Vec::len);
        assert_eq!((threads(&s.ada.caller), threads(&finn)), (1, 0), "the guardian answers");
        finn.post(&format!("/api/v1/notices/{zoes}/replies"), &line()).problem(403, "by-guardian");
        // so does a swap
        let swap = |to: &str| json!({"id": id(), "to": to, "ask_words": "A pair"});
        finn.post("/api/v1/swaps", &swap("zoe")).problem(403, "by-guardian");
        s.zoe.caller.post("/api/v1/swaps", &swap("finn")).expect(201);
        s.ada.caller.post("/api/v1/swaps", &swap("finn")).problem(404, "not-found");
        let swaps = |who: &Caller| who.get("/api/v1/swaps").expect(200).json()["swaps"].as_array().map_or(0, Vec::len);
        assert_eq!((swaps(&s.ada.caller), swaps(&finn)), (1, 0));
        // what they are told, the guardian is told too
        let email = json!({"email": "finn@example.org", "password": PASSWORD});
        finn.put("/api/v1/account/email", &email).expect(204);
        let told = s.ada.caller.get("/api/v1/messages").expect(200).text;
        assert!(told.contains("For Finn Kelp: Your e-mail address was changed."), "{told}");

        // of age, as an officer says
        let of_age = format!("{club}/members/{account}/of-age");
        s.zoe.caller.post(&of_age, &json!({})).problem(403, "role-missing");
        s.club.secretary.caller.post(&of_age, &json!({})).expect(204);
        s.club.secretary.caller.post(&of_age, &json!({})).problem(404, "not-found");
        assert_eq!(finn.get("/api/v1/account").expect(200).json()["shown_name"], NAME);
        finn.post(&format!("/api/v1/notices/{zoes}/replies"), &line()).expect(201);
        s.ada.caller.get(&format!("/api/v1/account/young/{account}/data")).problem(404, "not-found");
    }

    fn a_guardian_ends_sessions_takes_data_along_and_closes_the_account(engine) {
        let s = Society::new(engine);
        let made = make(&s, &s.ada, "finn", true).expect(201).json();
        let here = format!("/api/v1/account/young/{}", made["account"].as_str().expect("an id"));
        let finn = sign_in(&s, "finn", PASSWORD);
        let all = s.ada.caller.get("/api/v1/account/young").expect(200).json();
        assert_eq!((&all[0]["name"], all[0]["sessions"].as_array().map(Vec::len)), (&json!(NAME), Some(1)), "{all}");
        assert_eq!(s.ben.caller.get("/api/v1/account/young").expect(200).json(), json!([]));
        let data = s.ada.caller.get(&format!("{here}/data")).expect(200).json();
        assert_eq!((&data["account"]["login_name"], &data["account"]["under_age"]["name"]), (&json!("finn"), &json!(NAME)));
        let with = |password: &str| json!({"password": password, "new_password": OTHER});
        for who in [&s.ben, &s.club.secretary] {
            who.caller.get(&format!("{here}/data")).problem(404, "not-found");
            who.caller.post(&format!("{here}/sessions/end"), &json!({})).problem(404, "not-found");
            who.caller.put(&format!("{here}/password"), &with(PASSWORD)).problem(404, "not-found");
            who.caller.post(&format!("{here}/leaving"), &json!({"password": PASSWORD})).problem(404, "not-found");
            who.caller.post(&format!("{here}/of-age"), &json!({})).problem(404, "not-found");
        }
        s.ada.caller.post(&format!("{here}/sessions/end"), &json!({})).expect(204);
        finn.get("/api/v1/account/data").problem(401, "session-ended");
        s.ada.caller.put(&format!("{here}/password"), &with("not this one at all")).problem(401, "sign-in-failed");
        s.ada.caller.put(&format!("{here}/password"), &with(PASSWORD)).expect(204);
        let finn = sign_in(&s, "finn", OTHER);
        // nobody leaves somebody under age behind
        s.ada.caller.post("/api/v1/account/leaving", &json!({"password": PASSWORD})).problem(409, "answers-for-young");
        s.ada.caller.post(&format!("{here}/leaving"), &json!({"password": PASSWORD})).expect(204);
        finn.get("/api/v1/account/data").problem(401, "session-ended");
        let database = s.server.database();
        for query in [
            "SELECT count(*) FROM young_accounts",
            "SELECT count(*) FROM accounts WHERE shown_name LIKE '%Finn%' OR login_name = 'finn'",
            "SELECT count(*) FROM club_people WHERE name LIKE '%Finn%'",
        ] {
            assert_eq!(database.count(query), 0, "{query}");
        }
        s.server.command(&["check"]).expect(0);
    }
}

on_both_engines! {
    fn the_young_hold_no_office_and_keep_no_room_with_strangers(engine) {
        let s = Society::new(engine);
        let harbour = Club::found(&s.server, "Harbour Aquarists", "olga");
        let account = make(&s, &s.ada, "finn", true).expect(201).json()["account"].as_str().expect("an id").to_owned();
        assert!(messages(&s.club.secretary).contains("Finn Kelp is a member now, under age."));
        let finn = sign_in(&s, "finn", PASSWORD);
        let invite = |role: &str| {
            let path = format!("/api/v1/clubs/{}/invitations", harbour.id);
            let wanted = if role.is_empty() { json!({}) } else { json!({"role": role}) };
            json!({"token": token_of(&harbour.secretary.caller.post(&path, &wanted).expect(201).json())})
        };
        finn.post("/api/v1/invitations/join", &invite("health_steward")).problem(403, "by-guardian");
        finn.post("/api/v1/invitations/join", &invite("")).expect(200);
        assert!(messages(&s.ada).contains("For Finn Kelp: You are a member of Harbour Aquarists now."), "{}", messages(&s.ada));

        let keeper = |room: &str, login: &str| format!("/api/v1/rooms/{room}/keepers/{login}");
        s.zoe.caller.put(&keeper(&s.other_room, "finn"), &json!({})).problem(403, "by-guardian");
        s.zoe.caller.put(&format!("/api/v1/rooms/{}/caretaker/finn", s.other_room), &json!({})).problem(403, "by-guardian");
        s.ada.caller.put(&keeper(&s.room, "finn"), &json!({})).expect(204);
        let room = id();
        finn.post("/api/v1/rooms", &json!({"id": room, "name": "Shelf", "zone": "UTC"})).expect(201);
        finn.put(&keeper(&room, "zoe"), &json!({})).expect(204);
        assert!(messages(&s.ada).contains("For Finn Kelp: zoe keeps Shelf with you from now on."), "{}", messages(&s.ada));

        // a password made of the name that nobody reads is one's own name too
        let own = json!({"password": PASSWORD, "new_password": "Finn Kelp Finn Kelp"});
        s.ada.caller.put(&format!("/api/v1/account/young/{account}/password"), &own).problem(422, "password-weak");
        // the guardian shows all that is asked for when they sign in
        let (_, codes) = set_up(&s.ada);
        let here = |what: &str| format!("/api/v1/account/young/{account}/{what}");
        let new = |code: Option<&String>| json!({"password": PASSWORD, "new_password": OTHER, "code": code});
        s.ada.caller.put(&here("password"), &new(None)).problem(401, "second-factor-needed");
        s.ada.caller.put(&here("password"), &new(Some(&codes[0]))).expect(204);
        s.ada.caller.post(&here("leaving"), &json!({"password": PASSWORD})).problem(401, "second-factor-needed");
        // the young close their account themselves: the guardian hears of it, and keeps no line that names them
        let finn = sign_in(&s, "finn", OTHER);
        finn.delete(&keeper(&room, "zoe")).expect(204);
        finn.post("/api/v1/account/leaving", &json!({"password": OTHER})).expect(204);
        let told = messages(&s.ada);
        assert!(told.contains("The account of finn is closed") && !told.contains(NAME), "{told}");
    }

    fn a_guardian_answers_for_few_and_the_club_is_told(engine) {
        let s = Society::new(engine);
        let by = &s.club.secretary;
        for n in 0..6 {
            make(&s, &s.ada, &format!("finn{n}"), true).expect(201);
        }
        make(&s, &s.ada, "finn6", true).problem(409, "too-many-young");
        let list = people(by, &s.club.id);
        let line = named(&list, "zoe");
        let path = format!("/api/v1/clubs/{}/people/{}", s.club.id, line["person"].as_str().expect("an id"));
        put(by, &path, line["version"].as_i64(), &json!({"name": "zoe", "guest": true})).expect(200);
        make(&s, &s.zoe, "pim", true).problem(403, "guests-answer-for-nobody");

        let one = s.ada.caller.get("/api/v1/account/young").expect(200).json()[0]["account"].as_str().expect("an id").to_owned();
        s.ada.caller.post(&format!("/api/v1/account/young/{one}/of-age"), &json!({})).expect(204);
        let said = format!("{NAME} is of age, as their guardian says");
        let there = (0..100).any(|n| {
            if n > 0 {
                std::thread::sleep(std::time::Duration::from_millis(100));
            }
            messages(by).contains(&said)
        });
        assert!(there, "{}", messages(by));
        let audit = by.caller.get(&format!("/api/v1/clubs/{}/audit", s.club.id)).expect(200).text;
        assert!(audit.contains("is of age, as account"), "{audit}");
        // who answers for somebody leaves the club, and the young one is still in it
        s.ada.caller.delete(&format!("/api/v1/clubs/{}/membership", s.club.id)).expect(204);
        assert!(messages(by).contains("is no member of the club any more"), "{}", messages(by));
    }

    fn a_guardian_agrees_to_swap_what_the_young_have(engine) {
        let mut s = Society::new(engine);
        make(&s, &s.ada, "finn", true).expect(201);
        let finn = sign_in(&s, "finn", PASSWORD);
        let (room, tank, stock, founders, notice, swap) = (id(), id(), id(), id(), id(), id());
        finn.post("/api/v1/rooms", &json!({"id": room, "name": "Shelf", "zone": "UTC"})).expect(201);
        let person = Person { login: "finn".into(), account: String::new(), caller: finn.clone() };
        let pen = Pen::new();
        register(&person, &room, &pen).expect(200);
        let ops = [
            json!({"op": "tank.added", "tank": tank, "name": "S1"}),
            json!({"op": "stock.established", "stock": stock, "tank": tank, "species": "Poecilia wingei",
                "founders": {"node": founders, "origin": "bought", "related": "not_known"},
                "rows": [{"node": founders, "sex": "unsexed", "n": 9}]}),
        ];
        taken(&person, &room, &ops.map(|op| pen.op(op)));
        // fish that were always there may leave once the server has known them for the days of the rule
        s.wait(31);
        pen.wait(31 * 86_400_000);
        let finn = sign_in(&s, "finn", PASSWORD);
        let person = Person { caller: finn.clone(), ..person };
        let says = json!({"kind": "to_swap", "exchange": "Plants", "species": "Poecilia wingei", "area": "Harbour", "pickup": true, "posting": false,
            "numbers": {"unsexed": 4}, "offer": {"room": room, "stock": stock}});
        finn.post("/api/v1/notices", &json!({"id": notice, "club": s.club.id, "notice": says})).expect(201);
        let wanted = json!({"id": swap, "to": "finn", "ask": [{"notice": notice, "numbers": {"unsexed": 2}}],
            "give_words": "A bag of food."});
        s.zoe.caller.post("/api/v1/swaps", &wanted).expect(201);
        s.ada.caller.post(&format!("/api/v1/swaps/{swap}/agree"), &json!({})).expect(200);
        let seen = s.ada.caller.get(&format!("/api/v1/swaps/{swap}")).expect(200).json();
        let parcel = seen["own_parcel"]["parcel"].as_str().expect("a parcel").to_owned();
        let told = finn.get("/api/v1/messages").expect(200).text;
        assert!(told.contains(&format!("pack them for zoe, as parcel {parcel}")), "{told}");
        let packed = [
            json!({"op": "parcel.packed", "parcel": parcel, "to": "zoe", "rows": [{"stock": stock, "node": founders, "sex": "unsexed", "n": 2}]}),
            json!({"op": "parcel.handed", "parcel": parcel}),
        ];
        taken(&person, &room, &packed.map(|op| pen.op(op)));
        let seen = s.zoe.caller.get(&format!("/api/v1/swaps/{swap}")).expect(200).json();
        assert_eq!(seen["other_parcel"]["state"], "sent", "{seen}");
    }
}

fn messages(who: &Person) -> String {
    who.caller.get("/api/v1/messages").expect(200).text
}

#[test]
fn a_guardian_makes_an_account_on_pages() {
    let s = Society::new(Engine::Sqlite);
    for (screen, guardian, young) in [(Screen::Phone, "ada", "finn"), (Screen::Desk, "zoe", "nell")] {
        let browser = Browser::start(screen);
        browser.sign_in(&s.server.url(""), guardian);
        browser.visit(&s.server.url("/account/young"));
        assert_says(&browser.text("main"), &["You answer for nobody under age."]);
        browser.follow("a[href$='/young']:not([href='/account/young'])");
        look_at(&browser, &format!("young-form-{guardian}"));
        browser.fill("#name", NAME);
        browser.fill("#login_name", young);
        browser.fill("#password", PASSWORD);
        browser.follow("main form button");
        assert_says(&browser.text(".errors"), &["No account made. Say that you answer for them and agree."]);
        look_at(&browser, &format!("young-wrong-{guardian}"));
        browser.fill("#password", PASSWORD);
        browser.click("#agreed");
        browser.follow("main form button");
        assert_says(
            &browser.text("main"),
            &["You answer for one who is under age.", NAME, "The account is made."],
        );
        sign_in(&s, young, PASSWORD);
        browser.visit(&s.server.url("/account/young"));
        look_at(&browser, &format!("young-{guardian}"));
        browser.fill("#password", "not this one at all");
        browser.follow("form[action$='/password'] button[formaction$='/leave']");
        assert_says(&browser.text(".errors"), &["Not done."]);
        browser.follow("form[action$='/of-age'] button");
        assert_says(&browser.text("main"), &["They are of age, and stand for themselves."]);
    }
    let desk = Browser::start(Screen::Desk);
    make(&s, &s.ada, "pim", true).expect(201);
    let made = s.ada.caller.get("/api/v1/account/young").expect(200).json();
    desk.sign_in(&s.server.url(""), "wilma");
    let person = made[0]["account"].as_str().expect("an id");
    desk.visit(&s.server.url(&format!("/clubs/{}/people/{person}", s.club.id)));
    look_at(&desk, "young-person");
    desk.follow("form[action$='/of-age'] button");
    assert_says(&desk.text("main"), &["They are of age, and stand for themselves."]);
}
