//! Who may do what: every operation of the API document as everyone, compared with the checked-in table
//! `tests/tables/refusals.tsv`. An operation that is not in the table fails, and so does a line without an operation.
//! After a wanted change: `TARN_BLESS=1 cargo test -p tarn-tests refusals`, and read the difference.

use crate::contract::same_as_checked_in;
use reqwest::Method;
use serde_json::{Value, json};
use std::fmt::Write;
use tarn_tests::api::{Answer, Caller, send};
use tarn_tests::document::{self, Operation, operations};
use tarn_tests::on_both_engines;
use tarn_tests::pen::id;
use tarn_tests::people::{Club, Person};
use tarn_tests::society::{self, Society};

/// The columns. `outsider` is in another club; `other_keeper` keeps another room of the same club.
const ROLES: [&str; 8] =
    ["stranger", "outsider", "member", "keeper", "co_keeper", "other_keeper", "health_steward", "secretary"];

struct Walk {
    /// A line of the member list.
    person: String,
    /// Open, as long as nobody takes it back.
    invitation: String,
    /// Whose link to Ada's room was made.
    helper: String,
    society: Society,
    people: Vec<Person>,
    /// Whom things are done to.
    target: Person,
    parcel: String,
    brood: String,
    group: String,
    /// Ada looks for something.
    notice: String,
    /// Zoe has written to her about it.
    thread: String,
    /// And proposes a swap.
    swap: String,
    unit: String,
    head: Value,
    epoch: String,
}

impl Walk {
    fn new(mut society: Society) -> Self {
        // what was always here may leave once the server has known it for the days of the rule
        let founders = || json!({"node": id(), "origin": "bought", "related": "not_known"});
        let rows = |of: &Value, n: u32| json!([{"node": of["node"], "sex": "unsexed", "n": n}]);
        let (tanks, stocks, parcel, brood) = ([id(), id()], [id(), id(), id()], id(), id());
        let (bought, own) = (founders(), founders());
        let ops = [
            json!({"op": "tank.added", "tank": tanks[0], "name": "A1"}),
            json!({"op": "tank.added", "tank": tanks[1], "name": "A2"}),
            json!({"op": "stock.established", "stock": stocks[1], "founders": own, "rows": rows(&own, 6),
                "tank": tanks[1]}),
        ];
        society::taken(&society.ada, &society.room, &ops.map(|body| society.adas.op(body)));
        society.wait(31);
        let outsider = Club::found(&society.server, "Harbour Aquarists", "olga").member("otto", None);
        let member = society.club.member("mia", None);
        let steward = society.club.member("hedda", Some("health_steward"));
        let target = society.club.member("tom", None);
        let (ada, room) = (&society.ada, &society.room);
        let home = json!({"club": society.club.id});
        ada.caller.put(&format!("/api/v1/rooms/{room}/home-club"), &home).expect(200);
        // fish that just came in make a unit; a bag for Zoe is packed out of others
        let ops = [
            json!({"op": "stock.came_in", "stock": stocks[0], "from": "shop", "founders": bought,
                "rows": rows(&bought, 6), "tank": tanks[0]}),
            json!({"op": "parcel.packed", "parcel": parcel, "to": "zoe",
                "rows": [{"stock": stocks[1], "node": own["node"], "sex": "unsexed", "n": 2}]}),
            json!({"op": "young.found", "brood": brood, "code": "PW-1", "name": {"species": "Poecilia wingei"},
                "stock": stocks[2], "rows": [{"node": brood, "sex": "unsexed", "n": 12}]}),
        ];
        society::taken(ada, room, &ops.map(|body| society.adas.op(body)));
        let units = ada.caller.get(&format!("/api/v1/quarantine/units?room={room}")).expect(200).json();
        let unit =
            units["rooms"][0]["units"][0]["unit"].as_str().unwrap_or_else(|| panic!("no unit in {units}"));
        let (unit, head) = (unit.to_owned(), units["rooms"][0]["head"].clone());
        let epoch = society.epoch(ada, room);
        let Society { ben, zoe, club, .. } = &society;
        let people =
            [&outsider, &member, ada, ben, zoe, &steward, &club.secretary].map(Clone::clone).to_vec();
        let wanted = json!({"kind": "wanted", "species": "Poecilia wingei", "area": "Harbour", "pickup": true,
            "posting": false});
        let (notice, swap) = (id(), id());
        let posted = json!({"id": notice, "club": club.id, "notice": wanted});
        ada.caller.post("/api/v1/notices", &posted).expect(201);
        let line = json!({"id": id(), "text": "I have some."});
        let replied = zoe.caller.post(&format!("/api/v1/notices/{notice}/replies"), &line).expect(201).json();
        let thread = replied["thread"].as_str().unwrap_or_default().to_owned();
        let proposed = json!({"id": swap, "thread": thread, "ask_words": "A pair"});
        zoe.caller.post("/api/v1/swaps", &proposed).expect(201);
        let group = id();
        let person = id();
        let invited = format!("/api/v1/clubs/{}/invitations", club.id);
        let invited = club.secretary.caller.post(&invited, &json!({})).expect(201).json();
        let invitation = invited["id"].as_str().unwrap_or_default().to_owned();
        let helper =
            ada.caller.post(&format!("/api/v1/rooms/{room}/helpers"), &json!({"name": "Tilda", "days": 14}));
        let helper = helper.expect(201).json()["helper"].as_str().unwrap_or_default().to_owned();
        Self {
            person,
            invitation,
            helper,
            people,
            target,
            parcel,
            brood,
            group,
            notice,
            thread,
            swap,
            unit,
            head,
            epoch,
            society,
        }
    }

    /// What this operation answers to this one.
    fn ask(&self, operation: &Operation, who: Option<&Person>) -> Answer {
        self.prepare(operation);
        let stranger = self.society.stranger();
        // ending a session must not end the one that the next operation needs
        let ends = operation.path.contains("/sessions/");
        let own = who.map(|who| if ends { who.sign_in(&stranger) } else { who.clone() });
        let caller: &Caller = own.as_ref().map_or(&stranger, |own| &own.caller);
        let request = caller.request(operation.method.clone(), &self.path(operation));
        // only edits of plain rows ask which version was read
        let request = request.header("if-match", "*");
        send(match &operation.example {
            // a body that is no JSON is shown as a text
            Some(Value::String(text)) => request.header("content-type", "text/csv").body(text.clone()),
            Some(example) => request.json(&self.body(operation, example)),
            None => request,
        })
    }

    /// Puts what the operation takes away back in its place.
    fn prepare(&self, operation: &Operation) {
        let (secretary, keeper) = (&self.society.club.secretary, &self.society.ada);
        match (operation.method.clone(), operation.path.as_str()) {
            (Method::DELETE, "/api/v1/clubs/{club}/members/{account}/roles/{role}") => {
                let path = self.path(operation);
                secretary.caller.put(&path, &json!({})).expect(204);
            }
            (Method::DELETE, "/api/v1/rooms/{room}/keepers/{login}") => {
                keeper.caller.put(&self.path(operation), &json!({})).expect(204);
            }
            (_, path) if path.ends_with("/people/{person}") => {
                let path = format!("/api/v1/clubs/{}/people/{}", self.society.club.id, self.person);
                secretary.caller.put(&path, &json!({"name": "Ida Brook"}));
            }
            // others reply while it stands; that it stands already is no harm
            (Method::POST, path)
                if path.starts_with("/api/v1/notices/{notice}/") && !path.ends_with("/again") =>
            {
                keeper.caller.post(&format!("/api/v1/notices/{}/again", self.notice), &json!({}));
            }
            (_, path) if path.starts_with("/api/v1/line-groups/") => {
                let group = json!({"id": self.group, "species": "Poecilia wingei", "line": "Campo"});
                keeper.caller.post("/api/v1/line-groups", &group).expect(201);
            }
            _ => {}
        }
    }

    /// Lets in again who has left the club, as what they were, and whose other sessions have ended.
    fn mend(&mut self, operation: &Operation, who: Option<&Person>, answer: &Answer) {
        let Some(who) = who.filter(|_| answer.status == 204) else { return };
        if operation.path == "/api/v1/sessions/others" {
            self.sign_in_again();
        }
        if operation.path != "/api/v1/clubs/{club}/membership" {
            return;
        }
        let is_steward = who.login == self.people[5].login;
        let role = if is_steward { json!({"role": "health_steward"}) } else { json!({}) };
        let club = &self.society.club;
        let path = format!("/api/v1/clubs/{}/invitations", club.id);
        let invited = club.secretary.caller.post(&path, &role).expect(201).json();
        who.caller.post("/api/v1/invitations/join", &json!({"token": invited["token"]})).expect(200);
    }

    fn sign_in_again(&mut self) {
        let at = self.society.stranger();
        let Society { ada, ben, zoe, club, .. } = &mut self.society;
        for person in self.people.iter_mut().chain([ada, ben, zoe, &mut club.secretary]) {
            *person = person.sign_in(&at);
        }
    }

    fn path(&self, operation: &Operation) -> String {
        let Society { club, room, .. } = &self.society;
        let fresh = id();
        let mut path = operation.path.clone();
        for (name, value) in [
            ("club", club.id.as_str()),
            ("account", &self.target.account),
            ("role", "librarian"),
            ("login", &self.target.login),
            ("room", room),
            ("stream", room),
            ("device", &fresh),
            ("session", &fresh),
            ("parcel", &self.parcel),
            ("brood", &self.brood),
            ("group", &self.group),
            ("unit", &self.unit),
            ("notice", &self.notice),
            ("thread", &self.thread),
            ("swap", &self.swap),
            ("message", &fresh),
            ("person", &self.person),
            ("invitation", &self.invitation),
            ("helper", &self.helper),
            ("probe", &fresh),
        ] {
            path = path.replace(&format!("{{{name}}}"), value);
        }
        assert!(
            !path.contains('{'),
            "{operation}: a parameter that this test does not know; give it a value here"
        );
        let of_ops = ["/api/v1/streams/{stream}/ops", "/api/v1/streams/{stream}/live"];
        if operation.method == Method::GET && of_ops.contains(&operation.path.as_str()) {
            path = format!("{path}?epoch={}&after=0", self.epoch);
        }
        path
    }

    fn body(&self, operation: &Operation, example: &Value) -> Value {
        let mut body = example.clone();
        let known = [
            ("club", &self.society.club.id),
            ("room", &self.society.room),
            ("thread", &self.thread),
            ("login", &self.target.login),
            ("id", &id()),
        ];
        for (name, value) in known {
            if body.get(name).is_some() {
                body[name] = json!(value);
            }
        }
        if body.get("head").is_some() {
            body["head"] = self.head.clone();
        }
        if operation.path.ends_with("/ops") {
            body = json!({"ops": []});
        }
        body
    }
}

/// A cell: the status, and the code of a problem.
fn cell(answer: &Answer) -> String {
    if answer.status < 400 {
        return answer.status.to_string();
    }
    let problem = answer.json();
    format!(
        "{} {}",
        answer.status,
        problem["type"].as_str().unwrap_or_default().trim_start_matches("/problems/")
    )
}

on_both_engines! {
    /// Reading the table is reading who may do what.
    fn everyone_may_do_what_the_table_says(engine) {
        let mut walk = Walk::new(Society::new(engine));
        let document: Value = serde_json::from_str(&document::written()).expect("JSON");
        let mut table = format!("method\tpath\t{}\n", ROLES.join("\t"));
        for operation in operations(&document) {
            let _ = write!(table, "{}\t{}", operation.method, operation.path);
            for at in 0..ROLES.len() {
                let who = at.checked_sub(1).and_then(|at| walk.people.get(at)).cloned();
                let who = who.as_ref();
                let answer = walk.ask(&operation, who);
                assert!(answer.status < 500, "{operation} failed for {who:?}: {answer}");
                if who.is_none() && operation.secured {
                    let by_token = operation.path.starts_with("/api/v1/probe/");
                    answer.problem(401, if by_token { "probe-over" } else { "not-signed-in" });
                }
                walk.mend(&operation, who, &answer);
                let _ = write!(table, "\t{}", cell(&answer));
            }
            table.push('\n');
        }
        same_as_checked_in("tests/tables/refusals.tsv", &table);
    }
}
