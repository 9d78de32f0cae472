//! Fish between rooms, and the signature that frees them: the ways round that somebody might try.

use serde_json::{Value, json};
use tarn_tests::api::Answer;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{Pen, id, now_ms, push, tank};
use tarn_tests::people::Person;
use tarn_tests::society::{Society, register, taken};

/// What was always here may leave only after a month. So long the server's clock goes on before anything is handed over.
const WAITED: i64 = 80;

/// So many days ago by the server's clock, as an op's `at`.
fn days_ago(days: i64) -> String {
    let ago = (WAITED - days) * 86_400_000;
    let time = chrono::DateTime::from_timestamp_millis(now_ms() + ago).expect("a time within reason");
    time.format("%Y-%m-%dT%H:%M:%SZ").to_string()
}

/// The same op, dated so many days back.
fn back(mut op: Value, days: i64) -> Value {
    op["at"] = days_ago(days).into();
    op
}

fn rows(node: &str, n: u32) -> Value {
    json!([{"node": node, "sex": "unsexed", "n": n}])
}

/// A stock of seven founders, here before the records.
fn founders(pen: &Pen, tank: &str) -> (String, String, Value) {
    let (stock, node) = (id(), id());
    let op = pen.op(json!({"op": "stock.established", "stock": stock, "tank": tank, "rows": rows(&node, 7),
        "founders": {"node": node, "origin": "bought", "related": "not_known"}}));
    (stock, node, op)
}

fn packed(parcel: &str, stock: &str, node: &str) -> Value {
    json!({"op": "parcel.packed", "parcel": parcel, "to": "zoe",
        "rows": [{"stock": stock, "node": node, "sex": "unsexed", "n": 3}]})
}

/// Ada's fish have waited long enough; their stock and node.
fn waited(s: &mut Society) -> (String, String) {
    let tank = tank("A1");
    let (stock, node, made) = founders(&s.adas, tank["tank"].as_str().expect("an id"));
    taken(&s.ada, &s.room, &[s.adas.op(tank), made]);
    s.wait(WAITED);
    (stock, node)
}

/// Ada sends Zoe three fish of a stock; the parcel and their node.
fn sent(s: &mut Society) -> (String, String) {
    let (stock, node) = waited(s);
    let parcel = id();
    let ops = [
        s.adas.op(packed(&parcel, &stock, &node)),
        s.adas.op(json!({"op": "parcel.handed", "parcel": parcel})),
    ];
    // Back-dated, so that what arrives 40 days ago was handed over before.
    let ops: Vec<Value> = ops.into_iter().map(|op| back(op, 41)).collect();
    taken(&s.ada, &s.room, &ops);
    (parcel, node)
}

fn pushed(who: &Person, room: &str, op: Value) -> Value {
    who.caller.post(&format!("/api/v1/streams/{room}/ops"), &push(&[op])).expect(200).json()["results"][0]
        .clone()
}

fn parcel_as(who: &Person, parcel: &str) -> Answer {
    who.caller.get(&format!("/api/v1/parcels/{parcel}"))
}

/// Zoe takes the parcel in, 40 days ago, into a tank of its own; its stock and the op.
fn arrived(s: &Society, parcel: &str, node: &str) -> (String, Value) {
    let tank = tank("Q1");
    let place = tank["tank"].clone();
    let stock = id();
    let arrived = s.zoes.op(json!({"op": "parcel.arrived", "parcel": parcel, "stock": stock, "tank": place,
        "alive": rows(node, 3)}));
    taken(&s.zoe, &s.other_room, &[back(s.zoes.op(tank), 40), back(arrived.clone(), 40)]);
    (stock, back(arrived, 40))
}

/// Zoe's room gets the club as its home, and somebody new becomes a health steward of it.
fn under_the_club(s: &Society, login: &str) -> Person {
    let home = format!("/api/v1/rooms/{}/home-club", s.other_room);
    s.zoe.caller.put(&home, &json!({"club": s.club.id})).expect(200);
    s.club.member(login, Some("health_steward"))
}

/// The one unit of Zoe's room, and the head it was read at.
fn unit(steward: &Person, room: &str) -> (String, u64, Value) {
    let units = steward.caller.get(&format!("/api/v1/quarantine/units?room={room}")).expect(200).json();
    let room = &units["rooms"][0];
    let unit = room["units"][0].clone();
    let id = unit["unit"].as_str().unwrap_or_else(|| panic!("no unit in {units}")).to_owned();
    (id, room["head"].as_u64().expect("a head"), unit)
}

/// Signs, and lets pass whatever was written down late.
fn sign(who: &Person, room: &str, unit: &str, id: &str, head: u64) -> Answer {
    let units = who.caller.get(&format!("/api/v1/quarantine/units?room={room}")).json();
    let all = units["rooms"][0]["units"].as_array().into_iter().flatten().find(|u| u["unit"] == unit);
    let keys = all.and_then(|unit| unit["blockers"].as_array()).into_iter().flatten();
    let pass = |blocker: &Value| json!({"key": blocker["key"], "why": "They were away; I saw the fish."});
    let waivers: Vec<Value> = keys.map(pass).collect();
    let body = json!({"id": id, "room": room, "head": head, "seen": "visit", "waivers": waivers});
    who.caller.post(&format!("/api/v1/quarantine/units/{unit}/sign-off"), &body)
}

/// All that a room's stream holds, each with its receipt.
fn held(who: &Person, s: &Society, room: &str) -> Vec<Value> {
    let path = format!("/api/v1/streams/{room}/ops?epoch={}&after=0", s.epoch(who, room));
    who.caller.get(&path).expect(200).json()["ops"].as_array().expect("ops").clone()
}

fn is_of(pulled: &Value, kinds: &[&str]) -> bool {
    kinds.contains(&pulled["op"]["body"]["op"].as_str().expect("a kind"))
}

/// Brings ops of these kinds back with their receipts.
fn brought_back(who: &Person, room: &str, ops: &[Value], kinds: &[&str]) {
    let back = ops.iter().filter(|pulled| is_of(pulled, kinds)).map(|pulled| {
        let receipt = json!({"by": pulled["by"], "received": pulled["received"], "decision": pulled["decision"],
            "mac": pulled["receipt"]});
        json!({"op": pulled["op"], "receipt": receipt})
    });
    let push = json!({"ops": back.collect::<Vec<_>>()});
    who.caller.post(&format!("/api/v1/streams/{room}/ops"), &push).expect(200);
}

/// Everything that is queued is done.
fn do_queued(s: &mut Society) {
    s.server.stop();
    s.server.command(&["mail", "send"]).expect(0);
    s.server.start_again();
}

on_both_engines! {
    /// A server that went back may have lost what it decided of a parcel in one room, in the other, or in both; nobody
    /// has it who did not pull it.
    fn what_was_decided_of_a_parcel_and_lost_is_decided_again(engine) {
        let mut s = Society::new(engine);
        let (parcel, node) = sent(&mut s);
        s.server.stop();
        let before = s.server.database().snapshot();
        s.server.start_again();
        arrived(&s, &parcel, &node);
        do_queued(&mut s);
        let (zoes, adas) = (held(&s.zoe, &s, &s.other_room), held(&s.ada, &s, &s.room));
        for pulled in [None, Some("parcel.matched"), Some("parcel.received")] {
            s.server.stop();
            s.server.database().roll_back(&before);
            s.server.start_again();
            let pulled = pulled.as_slice();
            brought_back(&s.zoe, &s.other_room, &zoes, &[&["tank.added", "parcel.arrived"], pulled].concat());
            brought_back(&s.ada, &s.room, &adas, pulled);
            do_queued(&mut s);
            for (who, room, kind) in [(&s.zoe, &s.other_room, "parcel.matched"), (&s.ada, &s.room, "parcel.received")] {
                let ops = held(who, &s, room);
                let told = ops.iter().filter(|op| is_of(op, &[kind])).count();
                assert_eq!(told, 1, "{kind}, when {pulled:?} came back: {ops:?}");
            }
            assert_eq!(parcel_as(&s.ada, &parcel).json()["state"], "arrived");
        }
        s.server.command(&["check"]).expect(0);
    }

    fn a_hand_over_that_is_taken_back_in_the_same_push_sends_nothing(engine) {
        let mut s = Society::new(engine);
        let (stock, node) = waited(&mut s);
        let parcel = id();
        let handed = s.adas.op(json!({"op": "parcel.handed", "parcel": parcel}));
        let wrong = s.adas.op(json!({"op": "op.withdrawn", "entry": handed["id"]}));
        let ops = [s.adas.op(packed(&parcel, &stock, &node)), handed, wrong];
        let head = *taken(&s.ada, &s.room, &ops).last().expect("three numbers");
        let streams = s.ada.caller.get("/api/v1/streams").expect(200).json();
        assert_eq!(streams["streams"][0]["head"], head, "no decision followed: {streams}");
    }

    fn an_arrival_that_matches_can_not_be_taken_back(engine) {
        let mut s = Society::new(engine);
        let (parcel, node) = sent(&mut s);
        let (_, arrived) = arrived(&s, &parcel, &node);
        let wrong = s.zoes.op(json!({"op": "op.withdrawn", "entry": arrived["id"]}));
        let result = pushed(&s.zoe, &s.other_room, wrong);
        assert_eq!(result["problem"]["type"], "/problems/op-relied-on", "{result}");
    }

    fn whoever_claims_a_parcel_learns_nothing_of_it(engine) {
        let mut s = Society::new(engine);
        let mallory = s.club.member("mallory", None);
        let (room, pen) = (id(), Pen::new());
        mallory.caller.post("/api/v1/rooms", &json!({"id": room, "name": "Shed", "zone": "UTC"})).expect(201);
        register(&mallory, &room, &pen).expect(200);
        let tank = tank("M1");
        let (stock, own, made) = founders(&pen, tank["tank"].as_str().expect("an id"));
        taken(&mallory, &room, &[pen.op(tank), made]);
        let (parcel, node) = sent(&mut s);
        let mallory = mallory.sign_in(&s.stranger());
        let claim = json!({"op": "parcel.arrived", "parcel": parcel, "stock": id(), "alive": rows(&node, 3)});
        taken(&mallory, &room, &[pen.op(packed(&parcel, &stock, &own)), pen.op(claim)]);
        parcel_as(&mallory, &parcel).problem(404, "not-found");
        for party in [&s.ada, &s.ben, &s.zoe] {
            let told = parcel_as(party, &parcel).expect(200).json();
            assert_eq!((&told["state"], &told["open"]), (&json!("sent"), &json!(3)), "{told}");
        }
    }

    fn who_gave_the_fish_does_not_sign_them_off_after_a_split(engine) {
        let mut s = Society::new(engine);
        let (parcel, node) = sent(&mut s);
        let (stock, _) = arrived(&s, &parcel, &node);
        let (own, place) = (tank("Q2"), id());
        let apart = json!({"op": "stock.split", "stock": stock, "new": place, "rows": rows(&node, 3), "tank": own["tank"]});
        taken(&s.zoe, &s.other_room, &[back(s.zoes.op(own), 39), back(s.zoes.op(apart), 39)]);
        let steward = under_the_club(&s, "stella");
        let roles = format!("/api/v1/clubs/{}/members/{}/roles/health_steward", s.club.id, s.ada.account);
        s.club.secretary.caller.put(&roles, &json!({})).expect(204);
        let (unit, head, _) = unit(&steward, &s.other_room);
        sign(&s.ada, &s.other_room, &unit, &id(), head).problem(403, "sign-off-by-party");
        sign(&s.zoe, &s.other_room, &unit, &id(), head).problem(403, "not-a-steward");
        let signed = sign(&steward, &s.other_room, &unit, &id(), head).expect(200).json();
        assert_eq!(signed["held_days"], 40, "{signed}");
    }

    fn a_signature_stands_under_what_the_steward_read(engine) {
        let mut s = Society::new(engine);
        let (parcel, node) = sent(&mut s);
        arrived(&s, &parcel, &node);
        let look = s.zoes.op(json!({"op": "note.written", "text": "a torn fin", "tank": Value::Null}));
        taken(&s.zoe, &s.other_room, std::slice::from_ref(&look));
        let steward = under_the_club(&s, "stella");
        let (unit, head, read) = unit(&steward, &s.other_room);
        let stock = read["members"][0]["stock"].clone();
        let sign_seen = s.zoes.op(json!({"op": "sign.seen", "stock": stock, "sign": "spots"}));
        taken(&s.zoe, &s.other_room, std::slice::from_ref(&sign_seen));
        sign(&steward, &s.other_room, &unit, &id(), head).problem(409, "changed-since");
        let (_, with_sign, _) = self::unit(&steward, &s.other_room);
        taken(&s.zoe, &s.other_room, &[s.zoes.op(json!({"op": "op.withdrawn", "entry": sign_seen["id"]}))]);
        sign(&steward, &s.other_room, &unit, &id(), with_sign).problem(409, "changed-since");
        sign(&steward, &s.other_room, &unit, &id(), 1_000_000).problem(409, "changed-since");
        let (_, now, _) = self::unit(&steward, &s.other_room);
        sign(&steward, &s.other_room, &unit, "3d6f5a0e-8a55-4bd7-9a53-0c6a5ad5a6b1", now).problem(422, "op-malformed");
        let twice = id();
        let first = sign(&steward, &s.other_room, &unit, &twice, now).expect(200).json();
        let second = sign(&steward, &s.other_room, &unit, &twice, now).expect(200).json();
        assert_eq!(first["words"], second["words"], "the same signature is one signature");
        let left = steward.caller.get(&format!("/api/v1/quarantine/units?room={}", s.other_room)).expect(200).json();
        assert_eq!(left["rooms"], json!([]), "{left}");
    }
}
