//! A room is given up, and somebody leaves the server: what goes, what stays, and who is told.

use reqwest::Method;
use serde_json::{Value, json};
use std::fs::File;
use std::io::Read;
use tarn_tests::api::send;
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::engine::Engine;
use tarn_tests::keeper::Keeper;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{id, push, tank};
use tarn_tests::people::{PASSWORD, Person};
use tarn_tests::server::Server;
use tarn_tests::society::{Society, register, taken};

use crate::lineage::{Of, Rooms};
use crate::pages::{assert_says, look_at};

fn give_up(who: &Person, room: &str, name: &str) -> tarn_tests::api::Answer {
    who.caller.post(&format!("/api/v1/rooms/{room}/giving-up"), &json!({"name": name}))
}

fn leave(who: &Person) -> tarn_tests::api::Answer {
    who.caller.post("/api/v1/account/leaving", &json!({"password": PASSWORD}))
}

/// Everything that a server keeps, as its backup holds it.
fn kept(server: &Server) -> String {
    let file = server.database().folder().join(format!("{}.tarn", id()));
    server.command(&["backup", &file.to_string_lossy()]).expect(0);
    let mut plain = Vec::new();
    let packed = File::open(&file).expect("the backup can be opened");
    zstd::Decoder::new(packed).and_then(|mut packed| packed.read_to_end(&mut plain)).expect("it is zstd");
    String::from_utf8_lossy(&plain).to_lowercase()
}

on_both_engines! {
    fn a_room_that_is_given_up_is_gone_for_good(engine) {
        let s = Society::new(engine);
        let room = &s.other_room;
        let epoch = s.epoch(&s.zoe, room);
        taken(&s.zoe, room, &[s.zoes.op(tank("A1")), s.zoes.op(tank("Oakbarrel"))]);
        let ops = format!("/api/v1/streams/{room}/ops");
        let from_first = format!("{ops}?epoch={epoch}&after=0");
        let export = s.zoe.caller.get(&format!("/api/v1/streams/{room}/export")).expect(200);
        assert_eq!(export.content_type, "application/jsonl");
        let lines: Vec<Value> = export.text.lines().map(|l| serde_json::from_str(l).expect("a line is JSON")).collect();
        let pulled = s.zoe.caller.get(&from_first).expect(200).json();
        assert_eq!(json!(lines), pulled["ops"], "the export is what a pull gives");

        give_up(&s.ada, room, "Cellar").problem(404, "not-found");
        give_up(&s.zoe, room, "cellar").problem(422, "not-its-name");
        give_up(&s.ada, &s.room, "Cellar").problem(409, "other-keepers");
        assert!(kept(&s.server).contains("oakbarrel"), "the test sees what is kept");
        give_up(&s.zoe, room, "Cellar").expect(204);
        give_up(&s.zoe, room, "Cellar").expect(204);

        assert_eq!(s.zoe.caller.get("/api/v1/rooms").expect(200).json()["rooms"], json!([]));
        s.zoe.caller.get(&from_first).problem(410, "stream-gone");
        s.zoe.caller.post(&ops, &push(&[s.zoes.op(tank("A2"))])).problem(410, "stream-gone");
        register(&s.zoe, room, &s.zoes).problem(410, "stream-gone");
        s.ada.caller.get(&from_first).problem(404, "not-found");
        let again = json!({"id": room, "name": "Cellar", "zone": "UTC"});
        s.zoe.caller.post("/api/v1/rooms", &again).problem(410, "stream-gone");
        s.ada.caller.post("/api/v1/rooms", &again).problem(409, "room-taken");
        assert!(!kept(&s.server).contains("oakbarrel"), "nothing of it is kept");
        s.server.command(&["check"]).expect(0);
    }

    /// Zoe bred fish that Ada has, and leaves. What Ada knows of them stays; what named Zoe goes.
    fn who_leaves_leaves_no_name_and_others_keep_their_fish(engine) {
        let (mut rooms, _, zoes) = Rooms::new(engine);
        let young = rooms.young(Of::Zoe, "ZW-1", &zoes);
        rooms.wait(40);
        let (parcel, _) = rooms.sent(Of::Zoe, &young, 3);
        rooms.until(|| rooms.ops(Of::Zoe, "parcel.received").pop());
        let before = rooms.s.ada.caller.get(&format!("/api/v1/broods/{}/ancestry", young.node)).expect(200).json();
        let zoe = &rooms.s.zoe;
        let own = zoe.caller.get("/api/v1/account/data").expect(200).json();
        assert_eq!(own["account"]["login_name"], "zoe");
        assert_eq!(own["clubs"]["member_of"][0]["name"], "Fellside Fishkeepers", "{own}");
        assert_eq!(own["account"]["rooms"][0]["id"], json!(rooms.s.other_room), "{own}");
        let email = own["account"]["email"].as_str().expect("an address").to_lowercase();
        let invite = format!("/api/v1/clubs/{}/invitations", rooms.s.club.id);
        rooms.s.club.secretary.caller.post(&invite, &json!({"email": email})).expect(201);
        assert!(kept(&rooms.s.server).contains(&email), "the test sees what is kept");

        zoe.caller.post("/api/v1/account/leaving", &json!({"password": "not this one at all"})).problem(401, "sign-in-failed");
        leave(zoe).expect(204);

        let again = json!({"login_name": "zoe", "password": PASSWORD});
        rooms.s.stranger().post("/api/v1/sessions", &again).problem(401, "sign-in-failed");
        zoe.caller.get("/api/v1/account/data").problem(401, "session-ended");
        assert!(!kept(&rooms.s.server).contains(&email), "the address is kept nowhere");
        let after = rooms.s.ada.caller.get(&format!("/api/v1/broods/{}/ancestry", young.node)).expect(200).json();
        assert_eq!(after, before, "the fish keep their lineage");
        let told = rooms.s.ada.caller.get(&format!("/api/v1/parcels/{parcel}")).expect(200).json();
        assert_eq!((&told["state"], &told["open"]), (&json!("arrived"), &json!(0)), "{told}");
        let members = rooms.s.club.secretary.caller.get(&format!("/api/v1/clubs/{}/people", rooms.s.club.id)).expect(200);
        assert!(!members.text.to_lowercase().contains("zoe"), "{members}");
        rooms.s.server.command(&["check"]).expect(0);
    }

    fn where_somebody_was_signed_in_is_forgotten_after_a_year(engine) {
        let mut s = Society::new(engine);
        let who = json!({"login_name": "zoe", "password": PASSWORD});
        let from = s.stranger().request(Method::POST, "/api/v1/sessions").header("user-agent", "phone lent by Otto");
        let session = send(from.json(&who)).expect(200).json();
        let there = s.stranger().with_token(session["access_token"].as_str().expect("a token"));
        there.delete("/api/v1/sessions/current").expect(204);
        assert!(kept(&s.server).contains("phone lent by otto"), "it is remembered");
        s.wait(370);
        let forgotten = (0..100).any(|n| {
            if n > 0 {
                std::thread::sleep(std::time::Duration::from_millis(100));
            }
            !kept(&s.server).contains("phone lent by otto")
        });
        assert!(forgotten, "after a year it is not");
        s.zoe.caller.get("/api/v1/account").expect(200);
    }

    fn nobody_leaves_fish_on_their_way_or_a_club_without_a_secretary(engine) {
        let (mut rooms, _, zoes) = Rooms::new(engine);
        let young = rooms.young(Of::Zoe, "ZW-1", &zoes);
        rooms.wait(40);
        rooms.handed(Of::Zoe, &young, 3);
        let no = leave(&rooms.s.zoe).problem(409, "parcels-on-their-way");
        assert_eq!(no["detail"], "One parcel is still on the way.", "{no}");
        rooms.s.zoe.caller.get("/api/v1/account").expect(200);
        give_up(&rooms.s.zoe, &rooms.s.other_room, "Cellar").problem(409, "parcels-on-their-way");
        let no = leave(&rooms.s.club.secretary).problem(409, "last-secretary");
        assert!(no["detail"].as_str().is_some_and(|why| why.contains("Fellside Fishkeepers")), "{no}");
        // Ben keeps the room too, so Ada leaves it to him
        leave(&rooms.s.ada).expect(204);
        let kept = rooms.s.ben.caller.get(&format!("/api/v1/rooms/{}", rooms.s.room)).expect(200).json();
        assert_eq!(kept["keepers"].as_array().map(Vec::len), Some(1), "{kept}");
    }

    fn a_device_is_told_once_that_its_room_was_given_up(engine) {
        let s = Society::new(engine);
        let client = |name: &str| {
            let keeper = Keeper::new(name);
            keeper.log_in(&s.server.url(""), "zoe");
            keeper
        };
        let (here, there) = (client("here"), client("there"));
        there.done(&["tank", "add", "A1"]);
        there.done(&["sync"]);
        there.done(&["tank", "add", "A2"]);
        here.run(&["room", "give-up", "Attic"]).expect(1);
        let said = here.done(&["room", "give-up", "Cellar"]);
        assert_says(&said.stderr, &["Cellar was given up: the server no longer has it."]);
        let said = there.done(&["sync"]);
        assert_says(&said.stderr, &["Cellar was given up"]);
        assert!(!there.done(&["sync"]).stderr.contains("given up"), "it is told once");
        assert_says(&there.done(&["room", "list"]).stdout, &["given up"]);
        assert_says(&there.done(&["tank", "list"]).stdout, &["A1", "A2"]);
        let no = there.run(&["tank", "add", "A3"]).expect(1);
        assert_says(&no.stderr, &["Cellar was given up"]);
        let folder = there.folder().join("taken");
        there.done(&["export", &folder.to_string_lossy()]);
        assert!(folder.join("ops.jsonl").is_file());
    }
}

#[test]
fn a_keeper_takes_their_data_along_and_leaves_on_a_phone() {
    let s = Society::new(Engine::Sqlite);
    let browser = Browser::start(Screen::Phone);
    browser.sign_in(&s.server.url(""), "zoe");
    browser.visit(&s.server.url("/account"));
    browser.follow("a[href='/account/data']");
    assert_says(&browser.text("main"), &["Everything about you", "Cellar", "Leave for good"]);
    look_at(&browser, "account-data");
    browser.follow("a[href$='/give-up']");
    browser.fill("#name", "Attic");
    browser.follow("main form button");
    assert_says(&browser.text(".errors"), &["Type the room’s name as it stands: Cellar"]);
    look_at(&browser, "room-give-up");
    browser.fill("#name", "Cellar");
    browser.follow("main form button");
    assert_says(&browser.text("main"), &["You keep no room here yet."]);
    browser.visit(&s.server.url("/account/data"));
    browser.fill("#password", "not this one at all");
    browser.follow("main form button");
    assert_says(&browser.text(".errors"), &["This is not the password."]);
    browser.fill("#password", PASSWORD);
    browser.follow("main form button");
    assert_says(&browser.text("main"), &["You have left."]);
    look_at(&browser, "account-left");
    browser.visit(&s.server.url("/account"));
    assert!(browser.url().contains("/sign-in"), "{}", browser.url());
}

on_both_engines! {
    fn a_caretaker_acts_when_the_keepers_can_t(engine) {
        let s = Society::new(engine);
        let at = |what: &str| format!("/api/v1/rooms/{}/{what}", s.room);
        let put = |who: &Person, login: &str| who.caller.put(&at(&format!("caretaker/{login}")), &json!({}));
        put(&s.zoe, "zoe").problem(404, "not-found");
        put(&s.ada, "nobody-at-all").problem(404, "not-found");
        put(&s.ada, "ben").problem(409, "keeps-it-already");
        s.zoe.caller.post(&at("taking-over"), &json!({})).problem(404, "no-caretaker");
        put(&s.ada, "zoe").expect(204);
        let mine = s.zoe.caller.get("/api/v1/caretaking").expect(200).json();
        assert_eq!((&mine["rooms"][0]["stream"], &mine["rooms"][0]["acting_since"]), (&json!(s.room), &Value::Null));
        s.zoe.caller.get(&at("")[..at("").len() - 1]).problem(404, "not-found");
        assert!(s.zoe.caller.get("/api/v1/messages").expect(200).text.contains("You are the caretaker of Cellar"));

        let zoe = Keeper::new("caretaker");
        zoe.log_in(&s.server.url(""), "zoe");
        assert_says(&zoe.done(&["room", "take-over"]).stdout, &["Cellar", "ada, ben"]);
        zoe.run(&["room", "take-over", "Attic"]).expect(1);
        assert_says(&zoe.done(&["room", "take-over", "Cellar"]).stderr, &["You keep Cellar from now on"]);
        zoe.done(&["sync"]);
        for keeper in [&s.ada, &s.ben] {
            let told = keeper.caller.get("/api/v1/messages").expect(200).text;
            assert!(told.contains("zoe acts as caretaker of Cellar from now on"), "{told}");
        }
        let room = s.zoe.caller.get(&format!("/api/v1/rooms/{}", s.room)).expect(200).json();
        assert_eq!(room["keepers"].as_array().map(Vec::len), Some(3), "{room}");
        // a keeper who is there ends it, and names another
        s.ben.caller.delete(&at("keepers/zoe")).expect(204);
        s.zoe.caller.post(&at("taking-over"), &json!({})).problem(404, "no-caretaker");
        put(&s.ben, "zoe").expect(204);
        s.ben.caller.delete(&at("caretaker")).expect(204);
        s.zoe.caller.post(&at("taking-over"), &json!({})).problem(404, "no-caretaker");
    }
}

#[test]
fn a_keeper_names_who_acts_for_them_and_they_do() {
    let s = Society::new(Engine::Sqlite);
    let browser = Browser::start(Screen::Desk);
    browser.sign_in(&s.server.url(""), "zoe");
    browser.visit(&s.server.url(&format!("/rooms/{}", s.other_room)));
    browser.follow("#people ~ .matter a");
    assert_says(&browser.text("main"), &["You keep Cellar alone.", "Nobody is named."]);
    browser.fill("#named", "otto");
    browser.follow("form[action$='/caretaker'] button");
    assert_says(&browser.text(".errors"), &["Nobody of your clubs signs in with this name."]);
    look_at(&browser, "room-people");
    browser.fill("#named", "ada");
    browser.follow("form[action$='/caretaker'] button");
    assert_says(&browser.text("main"), &["ada would act for you."]);

    let ada = Browser::start(Screen::Phone);
    ada.sign_in(&s.server.url(""), "ada");
    ada.visit(&s.server.url("/rooms"));
    assert_says(&ada.text("main"), &["You are caretaker of", "Kept by zoe."]);
    look_at(&ada, "room-caretaker");
    ada.follow("form[action$='/take-over'] button");
    assert_says(&ada.text("main"), &["Tanks"]);
    browser.visit(&browser.url());
    assert_says(&browser.text("main"), &["2 people keep Cellar.", "ada acts since"]);
    look_at(&browser, "room-people-acting");
    browser.fill("#keeper", "ben");
    browser.follow("form[action$='/keepers'] button");
    assert_says(&browser.text("main"), &["3 people keep Cellar."]);
}
