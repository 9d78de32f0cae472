//! Told in time: messages, the digest by mail, the calendar at a secret address. Nothing here waits: the server's clock
//! is set, and `mail send` does what is due and says what it did.

mod calendar;
mod digest;
mod pages;

use serde_json::{Value, json};
use std::cell::Cell;
use std::path::{Path, PathBuf};
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{Pen, clock, id, now_ms};
use tarn_tests::people::Person;
use tarn_tests::server::Server;
use tarn_tests::society::{Society, taken};

/// Longer than a line of a calendar, and more octets than signs.
const LONG_NAME: &str =
    "Fensterbänkchen für die Neuankömmlinge, vorn links; „nicht anfassen“ – 鱼 🐟 \\ Ende";

/// A society whose clock reads what the test says.
struct Told {
    s: Society,
    /// The clock of the next op: it rises, and is a little behind the server's.
    clock_ms: Cell<i64>,
    post: PathBuf,
}

/// Milliseconds of a time that is written out.
fn at(text: &str) -> i64 {
    chrono::DateTime::parse_from_rfc3339(text).expect("a time").timestamp_millis()
}

/// The shift with which a clock reads this now.
fn shift_to(time: &str) -> String {
    format!("{}ms", at(time) - now_ms())
}

impl Told {
    /// At a time that lies ahead, with mail into a folder.
    fn new(engine: Engine, now: &str) -> Self {
        Self::logging(engine, now, "warn")
    }

    fn logging(engine: Engine, now: &str, level: &str) -> Self {
        let mut server = Server::prepare(Database::new(engine));
        let post = server.database().folder().join("post");
        std::fs::create_dir_all(&post).expect("a folder");
        server.set_clock(&shift_to(now));
        server.set("TARN_MAIL_URL", &format!("file:{}", post.display()));
        server.set("TARN_MAIL_FROM", "Tarn <tarn@example.org>");
        server.set("TARN_LOG", level);
        // links lead to the port that it will have again
        server.set("TARN_PUBLIC_URL", "http://localhost");
        server.start_again();
        server.kill();
        let site = server.url("");
        server.set("TARN_PUBLIC_URL", &site);
        server.start_again();
        let s = Society::on(server);
        Self { s, clock_ms: Cell::new(at(now) - 600_000), post }
    }

    /// What is due by now is told, what waits is sent.
    fn tell(&self) -> String {
        self.s.server.command(&["mail", "send"]).expect(0).stdout
    }

    /// The clock goes on to a time, and everybody signs in anew.
    fn go_to(&mut self, now: &str) {
        self.s.server.kill();
        self.s.server.set_clock(&shift_to(now));
        self.s.server.start_again();
        self.clock_ms.set(at(now) - 600_000);
        let stranger = self.s.stranger();
        for person in [&mut self.s.ada, &mut self.s.ben, &mut self.s.zoe, &mut self.s.club.secretary] {
            *person = person.sign_in(&stranger);
        }
    }

    /// An op of Ada's at a time.
    fn op(&self, pen: &Pen, time: &str, body: Value) -> Value {
        self.clock_ms.set(self.clock_ms.get() + 1);
        let mut op = pen.op_at(self.clock_ms.get(), body);
        op["at"] = format!("{}Z", &clock(at(time))[..19]).into();
        op
    }

    /// Ada looks at a tank.
    fn look(&self, tank: &str, time: &str) {
        taken(
            &self.s.ada,
            &self.s.room,
            &[self.op(&self.s.adas, time, json!({"op": "look.done", "tanks": [tank]}))],
        );
    }

    /// Six fish from a shop go into a tank of this name; the tank and the fish.
    fn came_in(&self, tank: &str, time: &str) -> (String, String) {
        let (place, stock, node) = (id(), id(), id());
        let ops = [
            self.op(&self.s.adas, time, json!({"op": "tank.added", "tank": place, "name": tank})),
            self.op(
                &self.s.adas,
                time,
                json!({"op": "stock.came_in", "stock": stock, "from": "shop", "source": "Aquarium by the ford",
                    "founders": {"node": node, "origin": "bought", "related": "not_known"},
                    "rows": [{"node": node, "sex": "unsexed", "n": 6}], "tank": place}),
            ),
        ];
        taken(&self.s.ada, &self.s.room, &ops);
        (place, stock)
    }

    fn letters(&self) -> Vec<String> {
        let files = std::fs::read_dir(&self.post).expect("the folder").map(|f| f.expect("a file").path());
        let mut files: Vec<PathBuf> =
            files.filter(|p: &PathBuf| p.extension().is_some_and(|e| e == "eml")).collect();
        files.sort_by_key(|p| std::fs::metadata(p).and_then(|m| m.modified()).expect("a time"));
        files.iter().map(|p: &PathBuf| std::fs::read_to_string(Path::new(p)).expect("a letter")).collect()
    }
}

fn messages(who: &Person) -> Vec<String> {
    let told = who.caller.get("/api/v1/messages").expect(200).json();
    let lines = told["messages"].as_array().expect("messages").clone();
    lines.iter().map(|m| m["text"].as_str().expect("a text").to_owned()).collect()
}

on_both_engines! {
    fn a_day_that_is_over_is_told_once_and_clears_nothing(engine) {
        let mut t = Told::new(engine, "2027-03-10T18:00:00Z");
        let room = t.s.room.clone();
        let steward = t.s.club.member("sten", Some("health_steward"));
        t.s.ada.caller.put(&format!("/api/v1/rooms/{room}/home-club"), &json!({"club": t.s.club.id})).expect(200);
        t.s.server.database().execute(&["UPDATE rooms SET zone = 'Europe/Oslo'"]);
        // Thirty days of 24 hours, over the night in which the clocks go forward: 18:40 becomes 19:40.
        let (tank, stock) = t.came_in("Q1", "2027-03-10T17:40:00Z");
        t.tell();
        assert_eq!(messages(&t.s.ada), [""; 0]);
        // a week without a look is a gap from Wednesday on, and told a day before
        t.go_to("2027-03-16T18:00:00Z");
        t.tell();
        let gap = "Q1, stands alone, in Cellar. Look at the fish before Wed 17 Mar, 18:40, and write it down: after that \
            the time without a look is in the way of the sign-off.";
        assert_eq!(messages(&t.s.ada), [gap]);
        t.look(&tank, "2027-03-16T17:45:00Z");
        for day in ["2027-03-21", "2027-03-26", "2027-03-31", "2027-04-05"] {
            t.go_to(&format!("{day}T12:00:00Z"));
            t.look(&tank, &format!("{day}T11:30:00Z"));
            t.tell();
        }
        t.go_to("2027-04-09T16:40:00Z");
        t.tell();
        assert_eq!(messages(&t.s.ada), [gap]);
        t.go_to("2027-04-09T17:41:00Z");
        for _ in 0..3 {
            t.tell();
        }
        let steward = steward.sign_in(&t.s.stranger());
        let due = "Q1, stands alone, in Cellar. Its days were done on Fri 9 Apr, 19:40. A health steward may sign now; \
            nothing may leave before that.";
        for who in [&t.s.ada, &t.s.ben] {
            assert_eq!(messages(who), [due, gap], "{}", who.login);
        }
        assert_eq!(messages(&steward), [due]);
        for who in [&t.s.zoe, &t.s.club.secretary] {
            assert!(!messages(who).iter().any(|text| text.contains("Q1")), "{}", who.login);
        }
        let units = t.s.ada.caller.get("/api/v1/quarantine/units").expect(200).json();
        assert_eq!(units["rooms"][0]["units"][0]["state"], "due", "{units}");
        // one list leads to the signature, the other to the reasons
        let href = |who: &Person| who.caller.get("/api/v1/messages").expect(200).json()["messages"][0]["href"].clone();
        assert!(href(&steward).as_str().is_some_and(|h| h.starts_with("/sign-off/")));
        assert!(href(&t.s.ada).as_str().is_some_and(|h| h.starts_with("/units/")));
        // signed, and recalled by what is written down later of before
        let unit = units["rooms"][0]["units"][0]["unit"].as_str().expect("a unit");
        let signature = json!({"id": id(), "room": room, "head": units["rooms"][0]["head"], "seen": "visit"});
        steward.caller.post(&format!("/api/v1/quarantine/units/{unit}/sign-off"), &signature).expect(200);
        t.tell();
        assert_eq!(messages(&steward), [due]);
        let sign = json!({"op": "sign.seen", "stock": stock, "sign": "spots"});
        taken(&t.s.ada, &room, &[t.op(&t.s.adas, "2027-04-05T12:00:00Z", sign)]);
        for _ in 0..2 {
            t.tell();
        }
        for who in [&steward, &t.s.ada, &t.s.ben] {
            let all = messages(who);
            let recalls = all.iter().filter(|text| text.contains("counts as never given")).count();
            assert_eq!(recalls, 1, "{}: {all:?}", who.login);
        }
    }

    fn a_treatment_that_is_to_end_is_told_a_day_before(engine) {
        let mut t = Told::new(engine, "2027-03-10T18:00:00Z");
        let steward = t.s.club.member("sten", Some("health_steward"));
        let home = json!({"club": t.s.club.id});
        t.s.ada.caller.put(&format!("/api/v1/rooms/{}/home-club", t.s.room), &home).expect(200);
        let (tank, _) = t.came_in("Q1", "2027-03-10T17:40:00Z");
        let treatment = id();
        let began = json!({"op": "treatment.began", "treatment": treatment, "tank": tank, "with": "medicine",
            "what": "by the label of the bottle", "by": "our vet", "to_end": "2027-03-14T17:50:00Z"});
        taken(&t.s.ada, &t.s.room, &[t.op(&t.s.adas, "2027-03-10T17:50:00Z", began)]);
        t.tell();
        assert_eq!(messages(&t.s.ada), [""; 0]);
        t.go_to("2027-03-13T18:00:00Z");
        for _ in 0..2 {
            t.tell();
        }
        let says = "Q1, stands alone, in Cellar. The treatment of its water is to end on Sun 14 Mar, 17:50. Write down its \
            end when the label and the veterinarian say that it is over and what was put in is out of the water; from \
            then on the days begin again.";
        for who in [&t.s.ada, &t.s.ben] {
            assert_eq!(messages(who), [says], "{}", who.login);
        }
        assert_eq!(messages(&steward.sign_in(&t.s.stranger())), [""; 0]);
        // it runs until somebody says that it is over, whatever was planned
        t.go_to("2027-03-15T18:00:00Z");
        let state = |t: &Told| {
            let units = t.s.ada.caller.get("/api/v1/quarantine/units").expect(200).json();
            units["rooms"][0]["units"][0]["state"].clone()
        };
        assert_eq!(state(&t), "treating");
        let ended = json!({"op": "treatment.ended", "treatment": treatment});
        taken(&t.s.ada, &t.s.room, &[t.op(&t.s.adas, "2027-03-15T17:45:00Z", ended)]);
        assert_eq!(state(&t), "running");
    }

    fn home_fish_in_the_water_of_a_unit_are_told_at_once(engine) {
        let t = Told::new(engine, "2027-03-20T12:00:00Z");
        let steward = t.s.club.member("sten", Some("health_steward"));
        let home = json!({"club": t.s.club.id});
        t.s.ada.caller.put(&format!("/api/v1/rooms/{}/home-club", t.s.room), &home).expect(200);
        let (tank, _) = t.came_in("Q1", "2027-03-19T11:00:00Z");
        let (place, stock, node) = (id(), id(), id());
        let then = "2027-03-20T11:00:00Z";
        let ops = [
            t.op(&t.s.adas, then, json!({"op": "tank.added", "tank": place, "name": "A1"})),
            t.op(&t.s.adas, then, json!({"op": "stock.established", "stock": stock, "tank": place,
                "founders": {"node": node, "origin": "bought", "related": "not_known"},
                "rows": [{"node": node, "sex": "male", "n": 2}]})),
            t.op(&t.s.adas, "2027-03-20T11:30:00Z", json!({"op": "stock.moved", "stock": stock, "from": place, "to": tank})),
        ];
        taken(&t.s.ada, &t.s.room, &ops);
        for _ in 0..2 {
            t.tell();
        }
        let says = "Q1, stands alone, in Cellar. Home fish share its water since Sat 20 Mar, 11:30: they are held with it \
            now. Its page says which, and what to do.";
        for who in [&t.s.ada, &t.s.ben, &steward] {
            assert_eq!(messages(who), [says], "{}", who.login);
        }
    }

    fn messages_are_ones_own_and_are_read(engine) {
        let mut t = Told::new(engine, "2027-03-10T18:00:00Z");
        for n in 0..5 {
            t.came_in(&format!("Q{n}"), &format!("2027-03-0{}T12:00:00Z", n + 1));
        }
        t.go_to("2027-05-01T12:00:00Z");
        t.tell();
        let list = |query: &str| t.s.ada.caller.get(&format!("/api/v1/messages{query}")).expect(200);
        let mut seen = Vec::new();
        let mut next = "?limit=2".to_owned();
        loop {
            let page = list(&next);
            let told = page.json();
            seen.extend(told["messages"].as_array().expect("messages").iter().map(|m| m["id"].clone()));
            let Some(cursor) = told["next"].as_str() else {
                assert!(page.headers.get("link").is_none(), "{page}");
                break;
            };
            let link = page.headers["link"].to_str().expect("text").to_owned();
            assert!(link.contains(cursor) && link.ends_with("rel=\"next\""), "{link}");
            next = format!("?limit=2&after={cursor}");
        }
        assert_eq!(seen.len(), 5);
        assert_eq!(seen.iter().collect::<std::collections::HashSet<_>>().len(), 5);
        t.s.ada.caller.get("/api/v1/messages?after=nowhere").problem(400, "malformed");
        let one = seen[0].as_str().expect("an id");
        let path = format!("/api/v1/messages/{one}/read");
        t.s.ben.caller.put(&path, &json!({})).problem(404, "not-found");
        for _ in 0..2 {
            t.s.ada.caller.put(&path, &json!({})).expect(204);
        }
        assert_eq!(list("?unread=true").json()["unread"], 4);
        assert_eq!(list("?unread=true").json()["messages"].as_array().map(Vec::len), Some(4));
    }
}
