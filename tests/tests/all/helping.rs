//! Links to a room for who helps without an account: what they see and write, what they don't, how it ends, and that
//! their addresses stay secrets.

use crate::pages::{assert_says, look_at};
use reqwest::Method;
use serde_json::{Value, json};
use tarn_tests::api::send;
use tarn_tests::browser::{Browser, Screen};
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::keeper::Keeper;
use tarn_tests::on_both_engines;
use tarn_tests::pen::id;
use tarn_tests::server::Server;
use tarn_tests::site::{Form, Seen, Visitor};
use tarn_tests::society::{Society, taken};

/// Ada's room with guppies in A1 and new fish in Q1.
struct Helped {
    s: Society,
    a1: String,
    q1: String,
    guppies: String,
    held: String,
}

impl Helped {
    fn new(engine: Engine) -> Self {
        let mut server = Server::prepare(Database::new(engine));
        server.set("TARN_LOG", "trace");
        server.start_again();
        let s = Society::on(server);
        let (a1, q1, loop_a, guppies, held) = (id(), id(), id(), id(), id());
        let founders = || json!({"node": id(), "origin": "bought", "related": "not_known"});
        let rows = |of: &Value, n: u32| json!([{"node": of["node"], "sex": "unsexed", "n": n}]);
        let (own, bought) = (founders(), founders());
        let ops = [
            json!({"op": "water.system_set", "system": loop_a, "name": "Loop A", "net_ml": 240_000}),
            json!({"op": "tank.added", "tank": a1, "name": "A1"}),
            json!({"op": "tank.added", "tank": q1, "name": "Q1"}),
            json!({"op": "tank.plumbed", "tank": a1, "system": loop_a}),
            json!({"op": "stock.established", "stock": guppies, "tank": a1, "species": "Poecilia wingei",
                "founders": own, "rows": rows(&own, 9)}),
            json!({"op": "stock.came_in", "stock": held, "tank": q1, "species": "Xenotoca eiseni", "from": "shop",
                "source": "Aquarium by the ford", "founders": bought, "rows": rows(&bought, 6)}),
            json!({"op": "treatment.began", "treatment": id(), "system": loop_a, "with": "salt", "what": "Sea salt, 1 g/l",
                "by": "Doctor Lund"}),
            json!({"op": "note.written", "stock": guppies, "text": "Dear at the price."}),
        ];
        taken(&s.ada, &s.room, &ops.map(|body| s.adas.op(body)));
        Self { s, a1, q1, guppies, held }
    }

    /// Makes a link; its id and its path.
    fn link(&self, name: &str) -> (String, String) {
        let body = json!({"name": name, "days": 14});
        let made = self.s.ada.caller.post(&self.helpers(), &body).expect(201).json();
        let address = made["address"].as_str().unwrap_or_else(|| panic!("no address in {made}"));
        let (_, secret) = address.split_once("/helping/").unwrap_or_else(|| panic!("{address}"));
        assert_eq!(secret.len(), 22, "128 bits");
        (made["helper"].as_str().unwrap_or_default().to_owned(), format!("/helping/{secret}"))
    }

    fn helpers(&self) -> String {
        format!("/api/v1/rooms/{}/helpers", self.s.room)
    }

    fn visitor(&self) -> Visitor {
        Visitor::at(&self.s.server.url(""))
    }

    /// All ops of the room as a pull brings them.
    fn ops(&self) -> Vec<Value> {
        let (room, epoch) = (&self.s.room, self.s.epoch(&self.s.ada, &self.s.room));
        let pulled = self.s.ada.caller.get(&format!("/api/v1/streams/{room}/ops?epoch={epoch}&after=0"));
        pulled.expect(200).json()["ops"].as_array().cloned().unwrap_or_default()
    }
}

fn form(page: &Seen, what: &str) -> Form {
    let wanted = |f: &Form| f.fields.get("what").is_some_and(|w| w == what);
    page.form(wanted).unwrap_or_else(|| panic!("no form {what} ({}):\n{}", page.status, page.html))
}

on_both_engines! {
    fn a_helper_writes_on_the_round_and_nothing_else(engine) {
        let h = Helped::new(engine);
        let (link, path) = h.link("Tilda");
        let tilda = h.visitor();
        let page = tilda.get(&path).expect("a page");
        assert_says(&page.html, &["Tilda (helper)", "Poecilia wingei", "9 unsexed", "Loop A", "Q1", "Sea salt, 1 g/l"]);
        // nobody's name, no price, no source, no way to another page
        for secret in ["ada", "wilma", "Fellside", "by the ford", "Dear at", "Doctor Lund", "/rooms/", &h.s.other_room] {
            assert!(!page.html.contains(secret), "{secret:?} is on the page:\n{}", page.html);
        }
        let fed = form(&page, "fed").with("fed_tank", &h.a1).with("fed_food", "mysis");
        for _ in 0..2 {
            // pressing twice is once
            let page = tilda.post(&fed).expect("an answer");
            assert!(page.status == 200 && page.html.contains("Written: "), "{}", page.html);
        }
        let empty = tilda.post(&form(&page, "lost")).expect("an answer");
        assert!(empty.status == 422 && empty.html.contains("Choose which fish."), "{}", empty.html);
        let lost = form(&page, "lost").with("lost_stock", &h.guppies).with("lost_numbers", "1");
        let page = tilda.post(&lost.with("lost_cause", "jumped")).expect("an answer");
        assert_says(&page.html, &["8 unsexed", "1 unsexed lost, jumped out"]);
        for what in ["counted", "moved", "op.withdrawn"] {
            let forged = form(&page, "sign").with("what", what);
            assert_eq!(tilda.post(&forged).expect("an answer").status, 422, "{what}");
        }
        // as a browser sends it from a page that tells no referrer, and as a page elsewhere would
        let job = form(&page, "job").with("job_what", "filter rinsed");
        for (site, status) in [("cross-site", 403), ("same-origin", 303)] {
            let request = h.s.stranger().request(Method::POST, &path).header("origin", "null");
            let answer = send(request.header("sec-fetch-site", site).form(&job.fields));
            assert_eq!(answer.status, status, "{site}: {answer}");
            assert_eq!(answer.headers["referrer-policy"], "no-referrer");
        }
        // each is the link's, by one device of its own
        let ops = h.ops();
        let own: Vec<&Value> = ops.iter().filter(|op| op["by"] == json!(link)).collect();
        let kinds: Vec<&str> = own.iter().filter_map(|op| op["op"]["body"]["op"].as_str()).collect();
        assert_eq!(kinds, ["food.given", "stock.lost", "job.done"]);
        assert!(own.iter().all(|op| op["op"]["device"] == own[0]["op"]["device"]), "{own:?}");
        // it comes back by its receipt, whoever brings it, as what it was
        let back = json!({"ops": [{"op": own[0]["op"], "receipt": {"by": link, "received": own[0]["received"],
            "decision": false, "mac": own[0]["receipt"]}}]});
        let pushed = h.s.ben.caller.post(&format!("/api/v1/streams/{}/ops", h.s.room), &back).expect(200).json();
        assert_eq!(pushed["results"][0]["seq"], own[0]["seq"], "{pushed}");

        // its keepers read who it was, and take it back like any other
        let ada = h.visitor();
        ada.sign_in("ada").expect("ada signs in");
        let stock = ada.get(&format!("/rooms/{}/stocks/{}", h.s.room, h.guppies)).expect("a page");
        assert!(stock.html.contains("Tilda (helper)"), "{}", stock.html);
        let helpers = format!("/rooms/{}/helpers", h.s.room);
        let page = ada.get(&helpers).expect("a page");
        assert_says(&page.html, &["Tilda", "1 unsexed lost, jumped out", "Filter rinsed"]);
        let lost = own[1]["op"]["id"].as_str().expect("an id");
        let take = page.form(|f| f.fields.get("entry").is_some_and(|e| e == lost)).expect("it can be taken back");
        let page = ada.post(&take).expect("an answer");
        assert!(page.url.path() == helpers && page.html.contains("Taken back."), "{}", page.html);
        assert_says(&tilda.get(&path).expect("a page").html, &["9 unsexed", "Taken back by a keeper."]);

        // and end it: an open page says so at the next press
        let end = page.form(|f| f.action.ends_with("/helpers/end")).expect("it can be ended");
        ada.post(&end).expect("an answer");
        let ended = tilda.post(&fed).expect("an answer");
        assert!(ended.status == 404 && ended.html.contains("This link is good no more"), "{}", ended.html);
        let (ended, wrong) = (h.s.stranger().get(&path), h.s.stranger().get("/helping/AAAAAAAAAAAAAAAAAAAAAA"));
        ended.problem(404, "link-over");
        assert_eq!(ended.text, wrong.text, "one that has ended is told like one that never was");
        let secret = path.trim_start_matches("/helping/");
        let log = h.s.server.logged();
        assert!(!log.contains(secret) && log.contains("/helping/"), "the log has it, or nothing");
        for table in ["audit_facts WHERE fact", "room_links WHERE name"] {
            let like = format!("SELECT count(*) FROM {table} LIKE '%{secret}%'");
            assert_eq!(h.s.server.database().count(&like), 0, "{table}");
        }
    }

    fn a_link_ends_with_the_right_of_who_made_it(engine) {
        let h = Helped::new(engine);
        let body = json!({"name": "Per", "days": 14});
        let made = h.s.ben.caller.post(&h.helpers(), &body).expect(201).json();
        let bens = format!("/helping/{}", made["address"].as_str().and_then(|a| a.rsplit('/').next()).expect("a link"));
        let (_, adas) = h.link("Tilda");
        assert_eq!(h.visitor().get(&bens).expect("a page").status, 200);
        let data = h.s.ben.caller.get("/api/v1/account/data").expect(200).json();
        assert_eq!(data["rooms"]["helpers_links"][0]["for"], "Per", "{data}");
        h.s.ada.caller.delete(&format!("/api/v1/rooms/{}/keepers/ben", h.s.room)).expect(204);
        h.s.stranger().get(&bens).problem(404, "link-over");
        assert_eq!(h.visitor().get(&adas).expect("a page").status, 200);
    }

    fn a_link_may_be_for_some_tanks(engine) {
        let h = Helped::new(engine);
        let only = |tank: &str| json!({"name": "Per", "days": 3, "tanks": [tank]});
        h.s.ada.caller.post(&h.helpers(), &only(&id())).problem(422, "invalid");
        let made = h.s.ada.caller.post(&h.helpers(), &only(&h.a1)).expect(201).json();
        let address = made["address"].as_str().expect("an address");
        let path = format!("/helping/{}", address.split_once("/helping/").expect("a secret").1);
        let per = h.visitor();
        let page = per.get(&path).expect("a page");
        assert_says(&page.html, &["A1", "Poecilia wingei", "Loop A"]);
        assert!(!page.html.contains("Q1") && !page.html.contains("Xenotoca"), "{}", page.html);
        let looked = |tank: &str| per.post(&form(&page, "looked").with("looked_tank", tank)).expect("an answer");
        assert_eq!(looked(&h.q1).status, 422, "it is not theirs");
        let sign = form(&page, "sign").with("sign_stock", &h.held).with("sign_words", "gasping");
        assert_eq!(per.post(&sign).expect("an answer").status, 422, "nor is what swims there");
        assert_eq!(looked(&h.a1).status, 200);
    }

    fn a_link_is_the_keepers_and_ends_by_itself(engine) {
        let mut h = Helped::new(engine);
        let body = json!({"name": "Tilda", "days": 14});
        let zoe = &h.s.zoe.caller;
        zoe.post(&h.helpers(), &body).problem(404, "not-found");
        zoe.get(&h.helpers()).problem(404, "not-found");
        for (name, days) in [("", 14), ("Tilda", 0), ("Tilda", 61)] {
            h.s.ada.caller.post(&h.helpers(), &json!({"name": name, "days": days})).problem(422, "invalid");
        }
        let (link, path) = h.link("Tilda");
        let own = format!("/api/v1/rooms/{}/helpers/{link}", h.s.other_room);
        zoe.delete(&own).problem(404, "not-found");
        h.s.stranger().get(&path).expect(200);

        // the client does the same
        let mut tarn = Keeper::new("ada");
        tarn.log_in(&h.s.server.url(""), "ada");
        let address = tarn.done(&["room", "helper", "add", "Per by the pond", "--days", "3", "--tank", "A1"]).stdout;
        let (_, secret) = address.trim().split_once("/helping/").expect("an address");
        h.s.stranger().get(&format!("/helping/{secret}")).expect(200);
        let listed = tarn.json(&["room", "helper", "list"]);
        assert_eq!(listed["helpers"].as_array().map(Vec::len), Some(2), "{listed}");
        tarn.done(&["room", "helper", "end", "per"]);
        h.s.stranger().get(&format!("/helping/{secret}")).problem(404, "link-over");
        assert_eq!(tarn.run(&["room", "helper", "end", "per"]).code, Some(2));

        h.s.wait(15);
        h.s.stranger().get(&path).problem(404, "link-over");
        tarn.set_clock(Some("15d".into()));
        let listed = h.s.ada.caller.get(&h.helpers()).expect(200).json();
        assert!(listed["helpers"].as_array().into_iter().flatten().all(|one| one["good"] == false), "{listed}");
    }
}

#[test]
fn the_round_by_a_link_is_seen_on_a_phone() {
    let h = Helped::new(Engine::Sqlite);
    let (_, path) = h.link("Tilda next door");
    let browser = Browser::start(Screen::Phone);
    browser.visit(&h.s.server.url(&path));
    look_at(&browser, "helping");
    browser.click("details.write summary");
    browser.follow("details[open] button");
    assert_says(&browser.text(".errors"), &["Not written. Two answers are missing"]);
    look_at(&browser, "helping-errors");
    browser.click("#fed_tank");
    browser.fill("#fed_food", "mysis");
    browser.follow("details[open] button");
    assert_says(&browser.text(".said"), &["Written: “Fed mysis in A1"]);
    look_at(&browser, "helping-written");

    let desk = Browser::start(Screen::Desk);
    desk.sign_in(&h.s.server.url(""), "ada");
    desk.visit(&h.s.server.url(&format!("/rooms/{}/helpers", h.s.room)));
    assert_says(&desk.text("main"), &["One link is good now.", "Tilda next door", "Fed mysis in A1"]);
    look_at(&desk, "helpers");
    desk.fill("#name", "Per");
    desk.follow("button.filled");
    assert_says(&desk.text("main"), &["Copy it now and send it to Per", "/helping/"]);
    look_at(&desk, "helper-added");
}
