//! One room with everything that could be told of it, and everyone who could read it.

use super::people::{ALL, Who, invited};
use super::words;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::pen::{Pen, id};
use tarn_tests::people::{Club, Person};
use tarn_tests::server::Server;
use tarn_tests::society::{register, taken};
use tarn_tests::{api::Caller, api::send};

/// So long the server knows what was always here, until it may leave.
pub const WAITED: &str = "31d";

/// A room with its keeper's device.
pub struct Room {
    pub id: String,
    keeper: Who,
    pen: Pen,
}

/// Fish that somebody keeps.
struct Fish {
    stock: String,
    node: String,
}

/// The scene.
pub struct Scene {
    pub server: Server,
    pub people: BTreeMap<Who, Person>,
    pub club: Club,
    /// The breeder's.
    pub room: Room,
    /// The holder's.
    pub holders: Room,
    pub system: String,
    /// Of the brood that was sent.
    pub stock: String,
    pub sent: String,
    pub parent: String,
    /// Was never sent, and is of another line.
    pub other: String,
    pub parcel: String,
    pub notice: String,
    pub thread: String,
    pub swap: String,
    pub group: String,
    /// None while nothing is in quarantine.
    pub unit: Option<String>,
}

fn rows(node: &str, sex: &str, n: u32) -> Value {
    json!({"node": node, "sex": sex, "n": n})
}

fn founders(node: &str, origin: &str) -> Value {
    json!({"node": node, "origin": origin, "related": "not_known", "locality": words::LOCALITY, "collected": "2019-05-04"})
}

fn found(fish: &Fish, code: &str, name: &Value, parents: &Fish, tank: &str) -> Value {
    let side = json!({"of": [{"stock": parents.stock, "node": parents.node, "n": 1}], "draw": "one"});
    json!({"op": "young.found", "brood": fish.node, "stock": fish.stock, "code": code, "name": name, "sires": side,
        "dams": side, "rows": [rows(&fish.node, "unsexed", 20)], "tank": tank})
}

fn fish() -> Fish {
    Fish { stock: id(), node: id() }
}

impl Scene {
    /// Everything but what is in quarantine.
    pub fn new(engine: Engine) -> Self {
        let server = Server::prepare(Database::new(engine));
        let mut scene = Self::peopled(server);
        let (wild, parent, sent, other, theirs) = (fish(), fish(), fish(), fish(), fish());
        scene.always_here(
            &wild,
            &[(&parent, words::PARENT_CODE), (&sent, words::SENT_CODE), (&other, words::OTHER_CODE)],
        );
        let partners = scene.made(Who::Partner, "Partnerroom");
        partners.write(
            &scene.people,
            &[json!({"op": "stock.established", "stock": theirs.stock, "species": "Xenotoca eiseni",
            "founders": {"node": theirs.node, "origin": "bought", "related": "not_known"},
            "rows": [rows(&theirs.node, "unsexed", 12)]})],
        );
        scene.wait();
        scene.stock.clone_from(&sent.stock);
        (scene.sent, scene.parent, scene.other) = (sent.node.clone(), parent.node, other.node);
        scene.send(&sent);
        scene.offer_and_swap(&sent, &partners.id, &theirs);
        scene.keep_together();
        scene
    }

    fn peopled(mut server: Server) -> Self {
        server.start_again();
        let club = Club::found(&server, "Fellside Fishkeepers", &Who::Secretary.login());
        let other = Club::found(&server, "Harbour Aquarists", "olga");
        let mut people = BTreeMap::from([(Who::Secretary, club.secretary.clone())]);
        for who in ALL {
            let (of, role) = match who {
                Who::Stranger | Who::Outsider | Who::Secretary | Who::IdleSteward => continue,
                Who::Breeder | Who::CoKeeper | Who::Member | Who::Partner => (&club, None),
                Who::Steward => (&club, Some("health_steward")),
                Who::OtherSteward => (&other, Some("health_steward")),
                Who::OtherClub | Who::Holder | Who::InLine | Who::Asked => (&other, None),
            };
            people.insert(who, invited(of, who, role));
        }
        // whoever has no club came by one that is no more
        let gone = Club::found(&server, "Moorland Aquarists", "gilda");
        people.insert(Who::Outsider, invited(&gone, Who::Outsider, None));
        let of_gone = "club = (SELECT id FROM clubs WHERE name = 'Moorland Aquarists')";
        for table in ["club_roles", "club_members"] {
            server.database().execute(&[&format!("DELETE FROM {table} WHERE {of_gone}")]);
        }
        let clubs = people[&Who::Outsider].caller.get("/api/v1/account").expect(200).json()["clubs"].clone();
        assert_eq!(clubs, json!([]));
        let empty = || Room { id: String::new(), keeper: Who::Breeder, pen: Pen::new() };
        let mut scene = Self {
            server,
            people,
            club,
            room: empty(),
            holders: empty(),
            system: id(),
            stock: String::new(),
            sent: String::new(),
            parent: String::new(),
            other: String::new(),
            parcel: id(),
            notice: id(),
            thread: String::new(),
            swap: id(),
            group: id(),
            unit: None,
        };
        scene.room = scene.made(Who::Breeder, words::ROOM);
        scene.holders = scene.made(Who::Holder, "Holdersroom");
        let path = format!("/api/v1/rooms/{}", scene.room.id);
        let breeder = &scene.people[&Who::Breeder].caller;
        breeder.put(&format!("{path}/keepers/{}", Who::CoKeeper.login()), &json!({})).expect(204);
        breeder.put(&format!("{path}/home-club"), &json!({"club": scene.club.id})).expect(200);
        scene
    }

    fn made(&self, keeper: Who, name: &str) -> Room {
        let room = Room { id: id(), keeper, pen: Pen::new() };
        let person = &self.people[&keeper];
        person.caller.post("/api/v1/rooms", &json!({"id": room.id, "name": name, "zone": "UTC"})).expect(201);
        register(person, &room.id, &room.pen).expect(200);
        room
    }

    fn always_here(&self, wild: &Fish, broods: &[(&Fish, &str); 3]) {
        let [(parent, parent_code), (sent, sent_code), (other, other_code)] = broods;
        let (tank, system) = (id(), &self.system);
        let name = |line: &str| {
            json!({"species": "Poecilia wingei", "form": "red chest", "trade": words::TRADE, "line": line,
                "collection": words::COLLECTION, "determined_by": words::DETERMINED_BY, "sure": true})
        };
        let note = |stock: &str, text: &str| json!({"op": "note.written", "stock": stock, "text": text});
        self.write(&[
            json!({"op": "water.system_set", "system": system, "name": words::SYSTEM, "net_ml": 240_000}),
            json!({"op": "tank.added", "tank": tank, "name": words::TANK, "stand": words::STAND}),
            json!({"op": "tank.plumbed", "tank": tank, "system": system}),
            json!({"op": "stock.established", "stock": wild.stock, "species": "Poecilia wingei", "name": words::STOCK,
                "tank": tank, "founders": founders(&wild.node, "wild"),
                "rows": [rows(&wild.node, "male", 6), rows(&wild.node, "female", 9)]}),
            note(&wild.stock, words::FOUNDERS_NOTE),
            found(parent, parent_code, &json!({"species": "Poecilia wingei", "collection": words::COLLECTION}), wild, &tank),
            found(sent, sent_code, &name(words::LINE), parent, &tank),
            found(other, other_code, &name(words::OTHER_LINE), wild, &tank),
            json!({"op": "stock.counted", "stock": sent.stock, "all": true, "rows": [rows(&sent.node, "unsexed", 20)]}),
            note(&sent.stock, words::BROOD_NOTE),
            json!({"op": "stock.described", "stock": sent.stock, "name": words::STOCK}),
            json!({"op": "water.read", "system": system,
                "values": [{"what": "nitrate", "typed": words::WATER, "unit": "mg/l NO3", "milli": 61_730}]}),
        ]);
    }

    fn write(&self, ops: &[Value]) {
        self.room.write(&self.people, ops);
    }

    /// The days of the rule go by.
    fn wait(&mut self) {
        self.server.stop();
        self.server.set_clock(WAITED);
        self.server.start_again();
        let at = self.stranger();
        for person in self.people.values_mut() {
            *person = person.sign_in(&at);
        }
        for room in [&self.room, &self.holders] {
            room.pen.wait(31 * 86_400_000);
        }
    }

    pub fn stranger(&self) -> Caller {
        Caller::stranger(&self.server)
    }

    /// Fish go to the holder and arrive, and their brood is called otherwise afterwards.
    fn send(&self, sent: &Fish) {
        let row = json!({"stock": sent.stock, "node": sent.node, "sex": "unsexed", "n": 4});
        self.write(&[
            json!({"op": "parcel.packed", "parcel": self.parcel, "to": Who::Holder.login(), "rows": [row]}),
            json!({"op": "parcel.handed", "parcel": self.parcel}),
        ]);
        let holder = &self.people[&Who::Holder];
        let slip = holder.caller.get(&format!("/api/v1/parcels/{}", self.parcel)).expect(200).json();
        let arrived = json!({"op": "parcel.arrived", "parcel": self.parcel, "stock": id(), "ancestry": slip["ancestry"],
            "alive": [rows(&sent.node, "unsexed", 4)]});
        self.holders.write(&self.people, &[arrived]);
        self.until(|| self.pulled(&self.holders).contains("parcel.matched"));
        let name = json!({"species": "Poecilia cf. wingei", "form": "red chest", "trade": words::TRADE, "line": words::LINE,
            "collection": words::COLLECTION, "determined_by": words::DETERMINED_BY, "sure": false});
        self.write(&[json!({"op": "brood.renamed", "brood": sent.node, "name": name, "why": words::WHY})]);
        self.until(|| self.pulled(&self.holders).contains("brood.told"));
        self.until(|| holder.caller.get("/api/v1/messages").expect(200).text.contains(words::WHY));
        self.until(|| self.pulled(&self.room).contains("parcel.received"));
    }

    /// The partner replies to the breeder's notice, and both agree to a swap.
    fn offer_and_swap(&mut self, sent: &Fish, room: &str, theirs: &Fish) {
        let (breeder, partner) = (&self.people[&Who::Breeder].caller, &self.people[&Who::Partner].caller);
        let offer = json!({"id": self.notice, "club": self.club.id, "notice": {
            "kind": "to_swap", "species": "Poecilia wingei", "form": "red chest",
            "offer": {"room": self.room.id, "stock": sent.stock}, "numbers": {"unsexed": 6}, "exchange": "What you have",
            "area": words::AREA, "pickup": true, "posting": false, "remarks": words::REMARK}});
        breeder.post("/api/v1/notices", &offer).expect(201);
        let line = json!({"id": id(), "text": words::REPLY});
        let replied =
            partner.post(&format!("/api/v1/notices/{}/replies", self.notice), &line).expect(201).json();
        self.thread =
            replied["thread"].as_str().unwrap_or_else(|| panic!("no thread in {replied}")).to_owned();
        let give = json!([{"offer": {"room": room, "stock": theirs.stock}, "numbers": {"unsexed": 3}}]);
        let proposed = json!({"id": self.swap, "thread": self.thread, "give": give, "give_words": words::SWAP,
            "ask": [{"notice": self.notice, "numbers": {"unsexed": 2}}]});
        partner.post("/api/v1/swaps", &proposed).expect(201);
        breeder.post(&format!("/api/v1/swaps/{}/agree", self.swap), &json!({})).expect(200);
    }

    fn keep_together(&self) {
        let breeder = &self.people[&Who::Breeder].caller;
        let group = json!({"id": self.group, "species": "Poecilia cf. wingei", "line": words::LINE});
        breeder.post("/api/v1/line-groups", &group).expect(201);
        let path = format!("/api/v1/line-groups/{}", self.group);
        for who in [Who::InLine, Who::Asked] {
            breeder.post(&format!("{path}/invitations"), &json!({"login": who.login()})).expect(204);
        }
        let joined = &self.people[&Who::InLine].caller;
        joined.put(&format!("{path}/membership"), &json!({})).expect(204);
    }

    /// Fish from a shop, whose founders were caught in the same place, go into a tank of their own.
    pub fn put_into_quarantine(&mut self) {
        let (tank, held) = (id(), fish());
        self.write(&[
            json!({"op": "tank.added", "tank": tank, "name": words::HELD_TANK}),
            json!({"op": "stock.came_in", "stock": held.stock, "from": "shop", "source": words::SHOP, "tank": tank,
                "species": "Xenotoca eiseni", "name": words::HELD_STOCK, "founders": founders(&held.node, "wild"),
                "rows": [rows(&held.node, "unsexed", 6)]}),
            json!({"op": "note.written", "stock": held.stock, "text": words::HELD_NOTE}),
            json!({"op": "food.given", "stocks": [held.stock], "food": words::FOOD}),
            json!({"op": "sign.seen", "stock": held.stock, "sign": words::SIGN}),
            json!({"op": "look.done", "tanks": [tank], "remark": words::LOOK}),
            json!({"op": "treatment.began", "treatment": id(), "tank": tank, "with": "salt", "what": words::TREATED}),
            json!({"op": "water.read", "tank": tank,
                "values": [{"what": "nitrate", "typed": words::HELD_WATER, "unit": "mg/l NO3", "milli": 72_910}]}),
        ]);
        let path = format!("/api/v1/quarantine/units?room={}", self.room.id);
        let units = self.people[&Who::Breeder].caller.get(&path).expect(200).json();
        let unit = units["rooms"][0]["units"][0]["unit"].as_str();
        let unit = unit.unwrap_or_else(|| panic!("no unit in {units}")).to_owned();
        // a steward lets one of them go to the partner, for whom it is packed
        let agreed =
            json!({"id": id(), "room": self.room.id, "to": Who::Partner.login(), "why": words::AGREED});
        let steward = &self.people[&Who::Steward].caller;
        let path = format!("/api/v1/quarantine/units/{unit}/parcel");
        let parcel = steward.post(&path, &agreed).expect(200).json()["parcel"].clone();
        let row = json!({"stock": held.stock, "node": held.node, "sex": "unsexed", "n": 1});
        self.write(&[
            json!({"op": "parcel.packed", "parcel": parcel, "to": Who::Partner.login(), "rows": [row]}),
        ]);
        self.unit = Some(unit);
    }

    /// Publishes the room's stock list.
    pub fn publish(&self, to: &str, with_name: bool) {
        let path = format!("/api/v1/rooms/{}/published", self.room.id);
        let request = self.people[&Who::Breeder].caller.request(reqwest::Method::PUT, &path);
        let body = json!({"to": to, "with_name": with_name});
        send(request.header("If-Match", "*").json(&body)).expect(200);
    }

    /// Does the work that is queued until it shows.
    #[track_caller]
    fn until(&self, shows: impl Fn() -> bool) {
        for _ in 0..60 {
            self.server.command(&["mail", "send"]).expect(0);
            if shows() {
                return;
            }
        }
        panic!("it does not show: {}", self.server.logged());
    }

    /// Where the ops of a room are pulled.
    pub fn ops_of(&self, room: &Room) -> String {
        let streams = self.people[&room.keeper].caller.get("/api/v1/streams").expect(200).json();
        let mut all = streams["streams"].as_array().into_iter().flatten();
        let epoch = all.find(|stream| stream["stream"] == room.id.as_str()).map(|stream| &stream["epoch"]);
        let epoch = epoch.and_then(Value::as_str).unwrap_or_else(|| panic!("not in {streams}"));
        format!("/api/v1/streams/{}/ops?epoch={epoch}&after=0&limit=10000", room.id)
    }

    /// An entry of the breeder's with words in it.
    pub fn note(&self) -> String {
        let pulled: Value = serde_json::from_str(&self.pulled(&self.room)).expect("JSON");
        let mut all = pulled["ops"].as_array().into_iter().flatten();
        let note = all.find(|one| one["op"]["body"]["op"] == "note.written").map(|one| &one["op"]["id"]);
        note.and_then(Value::as_str).unwrap_or_else(|| panic!("no note in {pulled}")).to_owned()
    }

    fn pulled(&self, room: &Room) -> String {
        self.people[&room.keeper].caller.get(&self.ops_of(room)).expect(200).text
    }
}

impl Room {
    fn write(&self, people: &BTreeMap<Who, Person>, ops: &[Value]) {
        let ops: Vec<Value> = ops.iter().map(|body| self.pen.op(body.clone())).collect();
        taken(&people[&self.keeper], &self.id, &ops);
    }
}
