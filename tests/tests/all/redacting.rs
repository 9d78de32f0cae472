//! Words of an entry are blanked for good: on the server and on every device, whatever happens to the server afterwards,
//! and nothing else of the records changes.

use serde_json::{Value, json};
use tarn_tests::api::Caller;
use tarn_tests::keeper::Keeper;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{id, push};
use tarn_tests::site::Visitor;
use tarn_tests::society::{Society, taken};

/// What must not be read anywhere in the end.
const NAME: &str = "Perpetua";

struct Story {
    society: Society,
    devices: Vec<(Keeper, &'static str)>,
}

impl Story {
    /// Two devices of Ada's and one of Ben's, all with what the room holds.
    fn new(society: Society) -> Self {
        let devices = [("adas", "ada"), ("bens", "ben"), ("away", "ada")];
        let devices = devices.map(|(name, login)| (Keeper::new(name), login)).into();
        let story = Self { society, devices };
        (0..3).for_each(|device| story.log_in(device));
        story
    }

    fn log_in(&self, device: usize) {
        let (keeper, login) = &self.devices[device];
        keeper.log_in(&self.society.server.url(""), login);
    }

    fn backup(&self, name: &str) -> String {
        let file = self.society.server.database().folder().join(name).to_string_lossy().into_owned();
        self.society.server.command(&["backup", &file]).expect(0);
        file
    }

    fn restore(&mut self, backup: &str) {
        let server = &mut self.society.server;
        server.kill();
        server.database().clear();
        server.command(&["restore", backup]).expect(0);
        server.start_again();
        let at = self.society.stranger();
        self.society.ada = self.society.ada.sign_in(&at);
    }

    /// Everything of the room, as somebody new would pull it.
    fn pulled(&self) -> Vec<Value> {
        let Society { ada, room, .. } = &self.society;
        let epoch = self.society.epoch(ada, room);
        let path = format!("/api/v1/streams/{room}/ops?epoch={epoch}&after=0&limit=10000");
        ada.caller.get(&path).expect(200).json()["ops"].as_array().expect("ops").clone()
    }

    fn one(&self, op: &str) -> Value {
        let all = self.pulled();
        all.iter()
            .find(|one| one["op"]["id"] == op)
            .unwrap_or_else(|| panic!("{op} is not in {all:?}"))
            .clone()
    }

    /// How many stored ops speak of her.
    fn told(&self) -> i64 {
        self.society.server.database().count(&format!("SELECT count(*) FROM ops WHERE body LIKE '%{NAME}%'"))
    }

    /// Nobody speaks of her any more, all have the same records, and the server's rows fit them.
    fn is_blanked_everywhere(&self) {
        assert_eq!(self.told(), 0, "{:?}", self.pulled());
        let Society { ada, room, server, .. } = &self.society;
        let state = ada.caller.get(&format!("/api/v1/streams/{room}/state")).expect(200).text;
        for (keeper, _) in &self.devices {
            assert_eq!(keeper.done(&["state", "--json"]).stdout.trim_end(), state, "{}", keeper.name());
            let history = keeper.json(&["history", "--limit", "100"]).to_string();
            assert!(!history.contains(NAME) && history.contains("[blanked]"), "{}: {history}", keeper.name());
            assert_eq!(keeper.json(&["sync", "refused"]), json!([]), "{}", keeper.name());
        }
        server.command(&["check"]).expect(0);
    }
}

on_both_engines! {
    fn what_is_blanked_is_gone_everywhere_and_stays_so_after_a_restore(engine) {
        let mut story = Story::new(Society::new(engine));
        let (room, before) = (story.society.room.clone(), story.backup("before.tarn"));
        let adas = &story.devices[0].0;
        adas.done(&["tank", "add", "Q1"]);
        let source = format!("{NAME}'s corner shop");
        let line = ["stock", "came-in", "Danios", "12", "--from", "shop", "--source", &source, "--tank", "Q1"];
        let came = adas.json(&line)["op"].as_str().expect("an id").to_owned();
        let says = format!("{NAME} says they nip");
        let note = adas.json(&["note", "write", &says, "--stock", "Danios"])["op"].as_str().expect("an id").to_owned();
        story.devices.iter().for_each(|(keeper, _)| drop(keeper.done(&["sync"])));
        let (first, said) = (story.one(&note), story.one(&came));
        assert_eq!(story.told(), 2);
        let with_it = story.backup("with-it.tarn");

        // one device stays away until the end; the others hear of it
        let told = story.devices[0].0.json(&["redact", &note]);
        assert_eq!((&told["entry"], &told["fields"]), (&json!(note), &json!(["text"])));
        assert_eq!(story.devices[0].0.json(&["redact", &came, "--field", "source"])["fields"], json!(["source"]));
        story.devices[1].0.done(&["sync"]);
        assert_eq!(story.told(), 0);
        let now = story.one(&note);
        assert_eq!(now["op"]["body"]["text"], "[blanked]");
        assert!(now["was"].is_string() && now["receipt"] != first["receipt"], "{now}");
        for same in ["seq", "by", "received", "decision"] {
            assert_eq!(now[same], first[same], "{same}");
        }
        // who sends it once more as it was is told that it is there
        let again = json!({"ops": [{"op": first["op"]}, {"op": said["op"], "receipt": {"by": said["by"],
            "received": said["received"], "decision": false, "mac": said["receipt"]}}]});
        let path = format!("/api/v1/streams/{room}/ops");
        let results = story.society.ada.caller.post(&path, &again).expect(200).json();
        assert_eq!(results["results"], json!([{"id": note, "seq": first["seq"]}, {"id": came, "seq": said["seq"]}]));
        // a new device takes the remains, and those that were there follow on
        let fresh = Keeper::new("fresh");
        fresh.log_in(&story.society.server.url(""), "ben");
        story.devices.push((fresh, "ben"));
        story.devices[0].0.done(&["food", "given", "flakes", "--tank", "Q1"]);
        story.devices.iter().take(2).for_each(|(keeper, _)| drop(keeper.done(&["sync"])));

        // a backup that still holds the words: the decision comes back with a device
        story.restore(&with_it);
        assert_eq!(story.told(), 2);
        story.log_in(1);
        assert_eq!(story.told(), 0, "the decision was pushed with its receipt");
        // one from before there was such an entry: the one who stayed away brings the words, the others the remains
        story.restore(&before);
        [2, 0, 1, 3].into_iter().for_each(|device| story.log_in(device));
        [2, 0, 1, 3].into_iter().for_each(|device| drop(story.devices[device].0.done(&["sync"])));
        story.is_blanked_everywhere();
        // and the remains first
        story.restore(&before);
        [3, 1, 2, 0].into_iter().for_each(|device| story.log_in(device));
        [3, 1, 2, 0].into_iter().for_each(|device| drop(story.devices[device].0.done(&["sync"])));
        story.is_blanked_everywhere();
        let back = story.one(&note);
        assert_eq!((&back["received"], &back["by"], &back["was"]), (&first["received"], &first["by"], &now["was"]));
    }

    fn only_words_are_blanked_and_only_by_those_who_keep_the_room(engine) {
        let s = Society::new(engine);
        let (tank, stock, note) = (id(), id(), s.adas.op(json!({"op": "note.written", "text": NAME})));
        let lost = s.adas.op(json!({"op": "stock.lost", "stock": stock, "cause": "culled", "reason": format!("bitten by {NAME}"),
            "rows": [{"node": "unassigned", "sex": "male", "n": 1}]}));
        let ops = [s.adas.op(json!({"op": "tank.added", "tank": tank, "name": "A1"})),
            s.adas.op(json!({"op": "stock.established", "stock": stock, "tank": tank,
                "rows": [{"node": "unassigned", "sex": "male", "n": 3}]})), note.clone(), lost.clone()];
        taken(&s.ada, &s.room, &ops);
        let path = format!("/api/v1/streams/{}/redactions", s.room);
        let ask = |who: &Caller, entry: &Value, fields: Value| who.post(&path, &json!({"entry": entry["id"], "fields": fields}));
        ask(&s.zoe.caller, &note, json!([])).problem(404, "not-found");
        ask(&s.ada.caller, &json!({"id": id()}), json!([])).problem(404, "not-found");
        ask(&s.ada.caller, &ops[0], json!(["name"])).problem(422, "not-personal");
        ask(&s.ada.caller, &ops[0], json!([])).problem(409, "nothing-personal");
        ask(&s.ada.caller, &note, json!(["stock"])).problem(422, "not-personal");
        let forged = s.bens.op(json!({"op": "op.redacted", "entry": note["id"], "fields": ["text"]}));
        let refused = s.ben.caller.post(&format!("/api/v1/streams/{}/ops", s.room), &push(&[forged])).expect(200).json();
        assert_eq!(refused["results"][0]["problem"]["type"], "/problems/decision-by-client");

        // a co-keeper does it at the entry's page; a second time changes nothing
        let visitor = Visitor::at(&s.server.url(""));
        visitor.sign_in("ben").expect("signed in");
        let stock_page = visitor.get(&format!("/rooms/{}/stocks/{stock}", s.room)).expect("a page");
        let own_page = format!("/rooms/{}/entries/{}", s.room, lost["id"].as_str().expect("an id"));
        assert!(stock_page.html.contains(&own_page), "{}", stock_page.html);
        let page = visitor.get(&own_page).expect("a page");
        assert!(page.html.contains(&format!("bitten by {NAME}")), "{}", page.html);
        let form = page.form(|form| form.action.ends_with("/blanked")).expect("a form");
        let done = visitor.post(&form).expect("posted");
        assert!(done.html.contains("They are blanked") && !done.html.contains(NAME), "{}", done.html);
        visitor.post(&form).expect("posted once more");
        let stock_page = visitor.get(&format!("/rooms/{}/stocks/{stock}", s.room)).expect("a page");
        assert!(!stock_page.html.contains(NAME) && !stock_page.html.contains(&own_page), "{}", stock_page.html);
        let first = ask(&s.ada.caller, &note, json!([])).expect(200).json();
        assert_eq!(ask(&s.ben.caller, &note, json!(["text"])).expect(200).json(), first, "the same is the same");
        let count = |sql: &str| s.server.database().count(sql);
        assert_eq!(count("SELECT count(*) FROM ops WHERE body LIKE '%op.redacted%'"), 2);
        assert_eq!(count(&format!("SELECT count(*) FROM ops WHERE body LIKE '%{NAME}%'")), 0);
        // culled fish still have a reason, so nothing is to put right
        let state = s.ada.caller.get(&format!("/api/v1/streams/{}/state", s.room)).expect(200).json();
        assert_eq!(state["stock"][&stock]["findings"], json!([]), "{state}");
        assert_eq!(count("SELECT count(*) FROM audit_facts WHERE fact LIKE '%blanked by%'"), 2);
        s.server.command(&["check"]).expect(0);
    }
}
