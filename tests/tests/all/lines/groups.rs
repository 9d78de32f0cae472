//! Line groups: who is asked, who sees what of whose rooms, and how a group ends.

use serde_json::{Value, json};
use tarn_tests::browser::Screen;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::id;
use tarn_tests::people::{Club, Person};
use tarn_tests::society::{Society, taken};

use super::{client, signed_in, young};
use crate::pages::{assert_says, look_at};

/// Ada and Zoe have broods of one line, and more that is nobody's business. Otto is in another club and keeps no room.
struct Line {
    society: Society,
    otto: Person,
    group: String,
}

impl Line {
    fn new(engine: Engine) -> Self {
        let society = Society::new(engine);
        let name = |species: &str, line: &str| json!({"species": species, "line": line});
        let tank = id();
        let (stock, campo) =
            young("PW-26-01", &name("Poecilia wingei", "Campo"), &[("male", 5), ("female", 7)]);
        let (_, other_line) = young("XX-OTHER-LINE", &name("Poecilia wingei", "Cumana"), &[("unsexed", 4)]);
        let counted = json!({"op": "stock.counted", "stock": stock, "all": true, "rows": [
            {"node": campo["brood"], "sex": "male", "n": 5}, {"node": campo["brood"], "sex": "female", "n": 6}]});
        let ops =
            [json!({"op": "tank.added", "tank": tank, "name": "Window tank"}), campo, other_line, counted];
        taken(&society.ada, &society.room, &ops.map(|body| society.adas.op(body)));
        let (_, hers) = young("ZP-7", &name(" poecilia WINGEI", "campo "), &[("unsexed", 20)]);
        let (_, other_species) =
            young("XX-OTHER-SPECIES", &name("Poecilia reticulata", "Campo"), &[("unsexed", 3)]);
        taken(&society.zoe, &society.other_room, &[hers, other_species].map(|body| society.zoes.op(body)));
        let otto = Club::found(&society.server, "Harbour Aquarists", "olga").member("otto", None);
        Self { society, otto, group: id() }
    }

    fn path(&self) -> String {
        format!("/api/v1/line-groups/{}", self.group)
    }

    fn start(&self) -> Value {
        let new = json!({"id": self.group, "species": "Poecilia wingei", "line": "Campo"});
        self.society.ada.caller.post("/api/v1/line-groups", &new).expect(201).json()
    }

    fn ask(&self, by: &Person, whom: &Person) {
        by.caller.post(&format!("{}/invitations", self.path()), &json!({"login": whom.login})).expect(204);
    }

    fn join(&self, who: &Person) {
        who.caller.put(&format!("{}/membership", self.path()), &json!({})).expect(204);
    }

    fn leave(&self, who: &Person) {
        who.caller.delete(&format!("{}/membership", self.path())).expect(204);
    }
}

fn brood(code: &str, numbers: [i32; 3], counted: Value) -> Value {
    let month = chrono::Utc::now().format("%Y-%m").to_string();
    json!({"code": code, "month": month, "form": null, "males": numbers[0], "females": numbers[1],
        "unsexed": numbers[2], "eggs": 0, "of_any_sex": 0, "last_counted": counted})
}

on_both_engines! {
    fn members_see_one_anothers_broods_of_the_line_and_nothing_else(engine) {
        let line = Line::new(engine);
        let Society { ada, ben, zoe, .. } = &line.society;
        let today = json!(chrono::Utc::now().format("%Y-%m-%d").to_string());
        let begun = line.start();
        assert_eq!(begun, line.start(), "the same again changes nothing");
        assert_eq!((&begun["state"], &begun["members"]), (&json!("member"), &json!(["ada"])));
        let again = json!({"id": line.group, "species": "Poecilia wingei", "line": "Campo"});
        zoe.caller.post("/api/v1/line-groups", &again).problem(409, "group-taken");
        let nameless = json!({"id": id(), "species": " ", "line": "Campo"});
        zoe.caller.post("/api/v1/line-groups", &nameless).problem(422, "invalid");

        // only members ask; whoever is asked is told, and sees no brood before they agree
        let asks = format!("{}/invitations", line.path());
        zoe.caller.post(&asks, &json!({"login": "otto"})).problem(404, "not-found");
        ada.caller.post(&asks, &json!({"login": "no-one"})).problem(404, "not-found");
        line.ask(ada, zoe);
        line.ask(ada, zoe);
        let told = zoe.caller.get("/api/v1/messages").expect(200);
        assert_eq!(told.text.matches("ada asks you to keep Poecilia wingei, line Campo, together.").count(), 1, "{told}");
        let asked = zoe.caller.get(&line.path()).expect(200).json();
        assert_eq!(
            (&asked["state"], &asked["invited_by"], &asked["kept"]),
            (&json!("invited"), &json!("ada"), &json!([]))
        );
        zoe.caller.post(&asks, &json!({"login": "otto"})).problem(404, "not-found");
        line.otto.caller.get(&line.path()).problem(404, "not-found");

        // one who was asked is not looked at before they agree
        let alone = ada.caller.get(&line.path()).expect(200).json();
        let own = json!({"who": ["ada"], "broods": [brood("PW-26-01", [5, 6, 0], today.clone())]});
        assert_eq!((&alone["members"], &alone["kept"]), (&json!(["ada"]), &json!([own])));
        line.join(zoe);
        let hers = json!({"who": ["zoe"], "broods": [brood("ZP-7", [0, 0, 20], json!(null))]});
        for member in [ada, zoe] {
            let seen = member.caller.get(&line.path()).expect(200);
            assert_eq!(seen.json()["kept"], json!([own, hers]));
            for secret in ["XX-OTHER", "Window", "Cellar", "reticulata", "Cumana"] {
                assert!(!seen.text.contains(secret), "{secret} is nobody's business: {seen}");
            }
        }

        // of any club, with no room at all; a room that two members keep is told once
        line.ask(zoe, &line.otto);
        line.join(&line.otto);
        assert_eq!(line.otto.caller.get(&line.path()).expect(200).json()["kept"], json!([own, hers]));
        line.ask(ada, ben);
        line.join(ben);
        let both = json!({"who": ["ada", "ben"], "broods": own["broods"]});
        assert_eq!(line.otto.caller.get(&line.path()).expect(200).json()["kept"], json!([both, hers]));

        // whoever leaves is seen no more, and sees no more
        line.leave(zoe);
        zoe.caller.get(&line.path()).problem(404, "not-found");
        assert_eq!(ada.caller.get(&line.path()).expect(200).json()["kept"], json!([both]));
        line.ask(ada, zoe);
        for member in [&line.otto, ben, ada] {
            line.leave(member);
        }
        zoe.caller.get(&line.path()).problem(404, "not-found");
        assert_eq!(zoe.caller.get("/api/v1/line-groups").expect(200).json()["groups"], json!([]));
    }

    fn the_client_begins_asks_joins_shows_and_leaves(engine) {
        let line = Line::new(engine);
        let (ada, zoe) = (client(&line.society, "ada"), client(&line.society, "zoe"));
        let begun = ada.json(&["line", "group", "start", "--species", "Poecilia wingei", "--line", "Campo"]);
        ada.done(&["line", "group", "invite", "zoe"]);
        ada.run(&["line", "group", "invite", "no-one"]).expect(1);
        let asked = zoe.json(&["line", "group", "list"]);
        assert_eq!((&asked["groups"][0]["id"], &asked["groups"][0]["state"]), (&begun["id"], &json!("invited")));
        assert_says(&zoe.done(&["line", "group", "list"]).stdout, &["Campo", "asked by ada"]);
        zoe.done(&["line", "group", "join", "campo"]);
        let shown = zoe.done(&["line", "group", "show"]).stdout;
        assert_says(&shown, &["PW-26-01", "5 m 6 f", "ZP-7", "20 unsexed"]);
        assert!(!shown.contains("XX-OTHER"), "{shown}");
        zoe.done(&["line", "group", "leave", "Campo"]);
        zoe.run(&["line", "group", "show"]).expect(2);
        ada.done(&["line", "group", "leave", "Campo"]);
        assert_eq!(ada.json(&["line", "group", "list"])["groups"], json!([]));
    }
}

#[test]
fn a_line_group_begins_and_is_read_on_pages() {
    let line = Line::new(Engine::Sqlite);
    let ada = signed_in(&line.society, Screen::Phone, "ada");
    ada.visit(&line.society.server.url("/groups"));
    assert_says(&ada.text("main"), &["You keep no line together with others yet.", "No line group yet."]);
    ada.fill("#species", "Poecilia wingei");
    ada.follow("main form button");
    assert_says(&ada.text(".errors"), &["Not begun."]);
    look_at(&ada, "groups-errors");
    ada.fill("#line", "Campo");
    ada.follow("main form button");
    assert_says(&ada.text("main"), &["Poecilia wingei, line Campo", "ada is in it.", "PW-26-01", "5 m 6 f"]);
    ada.fill("#login", "nobody-here");
    ada.follow("section[aria-labelledby=ask] button");
    assert_says(&ada.text(".errors"), &["Not asked. Nobody has this login name"]);
    ada.fill("#login", "zoe");
    ada.follow("section[aria-labelledby=ask] button");
    assert_says(&ada.text(".said"), &["Asked."]);

    let zoe = signed_in(&line.society, Screen::Desk, "zoe");
    zoe.visit(&line.society.server.url("/groups"));
    assert_says(&zoe.text("main"), &["You are asked into one more.", "ada asks you to keep it together."]);
    zoe.follow("article h3 a");
    assert!(!zoe.text("main").contains("PW-26-01"), "no brood before they agree");
    look_at(&zoe, "group-asked");
    zoe.follow("main button.filled");
    assert_says(
        &zoe.text("main"),
        &["ada and zoe are in it.", "ZP-7", "20 unsexed", "not all counted yet", "PW-26-01"],
    );
    look_at(&zoe, "group");
    zoe.follow("section[aria-labelledby=leave] button");
    assert!(zoe.url().ends_with("/groups"), "{}", zoe.url());
    ada.visit(&line.society.server.url("/groups"));
    ada.follow("article h3 a");
    look_at(&ada, "group-of-one");
}
