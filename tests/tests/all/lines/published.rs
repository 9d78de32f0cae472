//! Stock lists: who reads them, what stands on them and what never does, over the wire, on pages and with the client.

use reqwest::Method;
use serde_json::{Value, json};
use tarn_tests::api::{Answer, send};
use tarn_tests::browser::Screen;
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::id;
use tarn_tests::people::{Club, Person};
use tarn_tests::society::{Society, taken};

use super::{client, signed_in, young};
use crate::pages::{assert_says, look_at};

const CLUB: &str = "Fellside Fishkeepers";

/// Ada's room: guppies that were always there, their young, and fish that quarantine holds. Another club's member.
struct Shelf {
    society: Society,
    outsider: Person,
}

fn founders() -> Value {
    json!({"node": id(), "origin": "wild", "related": "not_known", "locality": "Rio Secreto"})
}

impl Shelf {
    fn new(engine: Engine) -> Self {
        let mut society = Society::new(engine);
        let (own, bought, a1, guppies) = (founders(), founders(), id(), id());
        let name =
            json!({"species": "Poecilia wingei", "form": "red chest", "trade": "Endler", "line": "Campo"});
        let (_, found) = young("PW-26-01", &name, &[("unsexed", 12)]);
        let ops = [
            json!({"op": "tank.added", "tank": a1, "name": "Window tank"}),
            json!({"op": "stock.established", "stock": guppies, "species": "Poecilia wingei", "name": "my dearest ones",
                "tank": a1, "founders": own, "rows": [{"node": own["node"], "sex": "male", "n": 6},
                {"node": own["node"], "sex": "female", "n": 9}]}),
            json!({"op": "note.written", "stock": guppies, "text": "Dear at the price."}),
            found,
        ];
        taken(&society.ada, &society.room, &ops.map(|body| society.adas.op(body)));
        // what was always here may leave once the server has known it for the days of the rule
        society.wait(31);
        let held = json!({"op": "stock.came_in", "stock": id(), "from": "shop", "species": "Xenotoca eiseni",
            "founders": bought, "rows": [{"node": bought["node"], "sex": "unsexed", "n": 6}]});
        taken(&society.ada, &society.room, &[society.adas.op(held)]);
        let outsider = Club::found(&society.server, "Harbour Aquarists", "olga").member("otto", None);
        Self { society, outsider }
    }

    fn path(&self) -> String {
        format!("/api/v1/rooms/{}/published", self.society.room)
    }

    fn list(&self) -> String {
        format!("/api/v1/lists/{}", self.society.room)
    }

    fn set(&self, who: &Person, version: Option<i32>, to: &str, with_name: bool) -> Answer {
        let request = who.caller.request(Method::PUT, &self.path());
        let request = match version {
            Some(version) => request.header("If-Match", format!("\"{version}\"")),
            None => request,
        };
        send(request.json(&json!({"to": to, "with_name": with_name})))
    }
}

on_both_engines! {
    fn a_list_is_read_by_those_it_is_published_to(engine) {
        let shelf = Shelf::new(engine);
        let Society { ada, ben, zoe, room, .. } = &shelf.society;
        let outsider = &shelf.outsider;

        // to nobody, until a keeper says otherwise
        let unset = ada.caller.get(&shelf.path()).expect(200);
        assert_eq!(unset.headers["etag"], "\"0\"");
        assert_eq!(
            unset.json(),
            json!({"to": "nobody", "name": null, "who": format!("a keeper of {CLUB}"), "clubs": [CLUB], "version": 0})
        );
        zoe.caller.get(&shelf.path()).problem(404, "not-found");
        zoe.caller.get(&shelf.list()).problem(404, "not-found");
        assert_eq!(zoe.caller.get("/api/v1/lists").expect(200).json()["lists"], json!([]));
        assert_eq!(ada.caller.get(&shelf.list()).expect(200).json()["mine"], true);

        // an edit says what it rests on
        shelf.set(ada, None, "club", false).problem(428, "if-match-missing");
        shelf.set(ada, Some(4), "club", false).problem(412, "not-the-newest");
        shelf.set(ada, Some(0), "the world", false).problem(422, "invalid");
        shelf.set(zoe, Some(0), "club", false).problem(404, "not-found");
        let set = shelf.set(ada, Some(0), "club", false).expect(200);
        assert_eq!((&set.headers["etag"], &set.json()["to"]), (&"\"1\"".parse().expect("a header"), &json!("club")));

        // the club reads what may leave, and nothing of where it is
        let list = zoe.caller.get(&shelf.list()).expect(200);
        let row = |form: Value, trade: Value, code: Value, numbers: [i32; 3]| {
            json!({"species": "Poecilia wingei", "form": form, "trade": trade, "code": code, "males": numbers[0],
                "females": numbers[1], "unsexed": numbers[2], "eggs": 0, "of_any_sex": 0})
        };
        assert_eq!(
            list.json(),
            json!({"room": room, "who": format!("a keeper of {CLUB}"), "mine": false, "to": "club", "stock": [
                row(json!(null), json!(null), json!(null), [6, 9, 0]),
                row(json!("red chest"), json!("Endler"), json!("PW-26-01"), [0, 0, 12])]})
        );
        for secret in ["Window", "Cellar", "dearest", "Dear at", "Secreto", "eiseni", "ada"] {
            assert!(!list.text.contains(secret), "{secret} is nobody's business: {list}");
        }
        assert_eq!(zoe.caller.get("/api/v1/lists").expect(200).json()["lists"][0], list.json());
        outsider.caller.get(&shelf.list()).problem(404, "not-found");
        assert_eq!(outsider.caller.get("/api/v1/lists").expect(200).json()["lists"], json!([]));

        // everybody; each keeper lets only their own name stand
        shelf.set(ben, Some(1), "everyone", true).expect(200);
        assert_eq!(outsider.caller.get(&shelf.list()).expect(200).json()["who"], "ben");
        assert_eq!(outsider.caller.get("/api/v1/lists").expect(200).json()["lists"][0]["who"], "ben");
        shelf.society.stranger().get(&shelf.list()).problem(401, "not-signed-in");
        ada.caller.delete(&format!("/api/v1/rooms/{room}/keepers/ben")).expect(204);
        let who = outsider.caller.get(&shelf.list()).expect(200).json()["who"].clone();
        assert_eq!(who, format!("a keeper of {CLUB}"), "whoever keeps the room no longer is not named");

        // and back
        shelf.set(ada, Some(2), "nobody", true).expect(200);
        zoe.caller.get(&shelf.list()).problem(404, "not-found");
        assert_eq!(outsider.caller.get("/api/v1/lists").expect(200).json()["lists"], json!([]));
    }

    fn the_client_publishes_and_reads_lists(engine) {
        let shelf = Shelf::new(engine);
        let mut ada = client(&shelf.society, "ada");
        ada.set_clock(Some("31d".into()));
        assert_eq!(ada.json(&["room", "publish"])["to"], "nobody");
        let set = ada.json(&["room", "publish", "--to", "club", "--name"]);
        assert_eq!((&set["to"], &set["who"], &set["version"]), (&json!("club"), &json!("ada"), &json!(1)));
        let told = ada.done(&["room", "publish", "--to", "everyone"]);
        assert_says(&told.stdout, &["goes to everybody who is signed in, as of ada."]);
        let mut otto = client(&shelf.society, "otto");
        otto.set_clock(Some("31d".into()));
        assert_says(&otto.done(&["list", "all", "--species", "poecilia"]).stdout, &["ada", "Poecilia wingei"]);
        assert_eq!(otto.json(&["list", "all", "--species", "Xenotoca"])["lists"], json!([]));
        let shown = otto.done(&["list", "show", "ad"]).stdout;
        assert_says(&shown, &["6 m 9 f", "PW-26-01", "12 unsexed", "red chest"]);
        otto.run(&["list", "show", "nobody"]).expect(2);
        ada.done(&["room", "publish", "--to", "club", "--no-name"]);
        assert_eq!(ada.json(&["room", "publish"])["who"], format!("a keeper of {CLUB}"));
        assert_eq!(otto.json(&["list", "all"])["lists"], json!([]));
    }
}

#[test]
fn a_keeper_publishes_on_a_page() {
    let shelf = Shelf::new(Engine::Sqlite);
    let browser = signed_in(&shelf.society, Screen::Phone, "ada");
    browser.visit(&shelf.society.server.url("/lists"));
    assert_says(&browser.text("main"), &["Nobody publishes a stock list", "Its stock list goes to nobody."]);
    browser.follow("section[aria-labelledby=own] .go");
    assert_says(&browser.text("main"), &["The members of Fellside Fishkeepers", "PW-26-01", "12 unsexed"]);
    assert!(!browser.source().contains("eiseni"), "what quarantine holds stands on no list");
    look_at(&browser, "published");
    browser.click("input[name=to][value=club]");
    browser.click("input[name=name][value=yes]");
    browser.follow("main button");
    assert_says(
        &browser.text(".said"),
        &["Set. Its stock list goes to the members of Fellside Fishkeepers, as of ada."],
    );

    // somebody else was quicker: what was chosen stays, and is not lost on them
    shelf.set(&shelf.society.ben, Some(1), "everyone", true).expect(200);
    browser.click("input[name=to][value=nobody]");
    browser.follow("main button");
    assert_says(&browser.text(".errors"), &["Not set. It was changed meanwhile"]);
    assert_says(&browser.text(".lead"), &["to everybody who is signed in, as of ben."]);
    browser.check_accessibility();
    browser.follow("main button");
    assert_says(&browser.text(".lead"), &["Its stock list goes to nobody."]);

    shelf.set(&shelf.society.ada, Some(3), "everyone", true).expect(200);
    let reader = signed_in(&shelf.society, Screen::Desk, "otto");
    reader.visit(&shelf.society.server.url("/lists"));
    look_at(&reader, "lists");
    reader.follow("section[aria-labelledby=lists] h3 a");
    assert_says(
        &reader.text("main"),
        &["Stock of ada", "Poecilia wingei", "6 m 9 f", "no brood recorded", "PW-26-01"],
    );
    look_at(&reader, "list");
}
