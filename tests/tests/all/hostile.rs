//! A client that means harm, or is badly broken: each thing it tries is answered with its own named problem, nothing
//! else changes, and what is good beside it in the same push is taken.

use flate2::Compression;
use flate2::write::GzEncoder;
use reqwest::Method;
use serde_json::{Value, json};
use std::io::Write;
use tarn_tests::api::{Answer, send};
use tarn_tests::engine::Engine;
use tarn_tests::on_both_engines;
use tarn_tests::pen::{self, Pen, id, push, tank};
use tarn_tests::people::Person;
use tarn_tests::society::{self, Society, register};

struct World(Society);

impl std::ops::Deref for World {
    type Target = Society;
    fn deref(&self) -> &Society {
        &self.0
    }
}

impl World {
    fn new(engine: Engine) -> Self {
        let world = Self(Society::new(engine));
        world.taken(&[world.adas.op(tank("A1"))]);
        world
    }

    fn push(&self, who: &Person, body: &Value) -> Answer {
        who.caller.post(&format!("/api/v1/streams/{}/ops", self.room), body)
    }

    /// Ada pushes these and each is taken; their numbers.
    #[track_caller]
    fn taken(&self, ops: &[Value]) -> Vec<u64> {
        society::taken(&self.ada, &self.room, ops)
    }

    fn pull(&self) -> Value {
        let epoch = self.epoch(&self.ada, &self.room);
        self.ada
            .caller
            .get(&format!("/api/v1/streams/{}/ops?epoch={epoch}&after=0", self.room))
            .expect(200)
            .json()
    }

    /// Everything that a refused push must leave as it is.
    fn everything(&self) -> (Value, String, Vec<i64>) {
        let state = self.ada.caller.get(&format!("/api/v1/streams/{}/state", self.room)).expect(200).text;
        let tables = ["ops", "devices", "room_tanks", "room_stocks", "room_stays", "room_plumbing", "broods"];
        let tables = tables.iter().chain(&["parcels", "jobs", "messages", "audit_facts"]);
        let rows = tables.map(|table| self.server.database().count(&format!("SELECT count(*) FROM {table}")));
        (self.pull(), state, rows.collect())
    }

    /// A push that is refused whole, and leaves nothing.
    #[track_caller]
    fn refused_whole(&self, body: &Value, status: u16, code: &str) -> Value {
        let before = self.everything();
        let problem = self.push(&self.ada, body).problem(status, code);
        assert_eq!(self.everything(), before, "something changed");
        problem
    }

    /// A push of one bad op: refused by name, and leaves nothing. Beside good ones, those are taken all the same.
    #[track_caller]
    fn refused(&self, who: &Person, bad: &Value, code: &str) -> Value {
        let before = self.everything();
        let answer = self.push(who, &json!({"ops": [bad]})).expect(200).json();
        let result = refusal(&answer["results"][0], code);
        assert_eq!(answer["results"].as_array().map(Vec::len), Some(1), "{answer}");
        assert_eq!(self.everything(), before, "something changed");

        let head = before.0["head"].as_u64().expect("a head");
        let good = [self.adas.op(tank(&id())), self.adas.op(tank(&id()))];
        let mixed = json!({"ops": [{"op": good[0]}, bad, {"op": good[1]}]});
        let mixed = if who.login == self.ada.login {
            self.push(who, &mixed).expect(200).json()
        } else {
            return result;
        };
        refusal(&mixed["results"][1], code);
        assert_eq!(mixed["results"][0]["seq"], head + 1, "{mixed}");
        assert_eq!(mixed["results"][2]["seq"], head + 2, "{mixed}");
        assert_eq!(mixed["head"], head + 2);
        result
    }
}

/// One result of a push, which must be this problem.
#[track_caller]
fn refusal(result: &Value, code: &str) -> Value {
    assert_eq!(result["problem"]["type"], format!("/problems/{code}"), "{result}");
    for member in ["title", "status", "detail"] {
        assert!(!result["problem"][member].is_null(), "no {member}: {result}");
    }
    result.clone()
}

fn with(mut op: Value, pointer: &str, value: Value) -> Value {
    match op.pointer_mut(pointer) {
        Some(place) => *place = value,
        None => {
            let (parent, name) = pointer.rsplit_once('/').expect("a pointer");
            op.pointer_mut(parent).expect("a parent")[name] = value;
        }
    }
    op
}

on_both_engines! {
    /// Decisions are the server's, whatever device they name.
    fn a_decision_is_not_taken_from_a_client(engine) {
        let world = World::new(engine);
        let now = format!("{}Z", &pen::clock(pen::now_ms())[..19]);
        let parcel = id();
        let decisions = [
            json!({"op": "home_club.set", "club": world.club.id, "from": now, "relies": []}),
            json!({"op": "parcel.sent", "parcel": parcel, "rows": [], "ancestry": [], "relies": []}),
            json!({"op": "op.redacted", "entry": id(), "fields": ["text"]}),
            json!({"op": "op.adopted", "entries": [id()], "from": world.ada.account}),
            json!({"op": "quarantine.cleared", "unit": id(), "members": [], "club": world.club.id, "rules": [],
                "held": 21, "steward": world.ada.account, "seen": "visit", "relies": []}),
        ];
        for decision in decisions {
            world.refused(&world.ada, &json!({"op": world.adas.op(decision.clone())}), "decision-by-client");
            // the stream's own device is nobody's
            let device = tarn_domain::streams::DeviceId::of_stream(world.room.parse().expect("an id"));
            let op = with(world.adas.op(decision), "/device", json!(device));
            world.refused(&world.ada, &json!({"op": op}), "device-not-yours");
        }
    }

    /// A device writes for the account that it is registered to, in the stream that it is registered for.
    fn another_account_s_device_is_not_taken(engine) {
        let world = World::new(engine);
        let of = |device: &str| json!({"op": with(world.adas.op(tank("B1")), "/device", json!(device))});
        world.refused(&world.ada, &of(&world.bens.device), "device-not-yours");
        world.refused(&world.ben, &of(&world.adas.device), "device-not-yours");
        world.refused(&world.ada, &of(&id()), "device-not-yours");
        world.refused(&world.ada, &of(&world.zoes.device), "device-not-yours");
        // nor can it be made one's own
        let before = world.everything();
        register(&world.ben, &world.room, &world.adas).problem(403, "device-not-yours");
        assert_eq!(world.everything(), before);
    }

    /// Who may not write a room learns nothing about it, not even that it is there.
    fn another_s_room_is_not_there(engine) {
        let world = World::new(engine);
        let before = world.everything();
        let op = push(&[world.adas.op(tank("B1"))]);
        world.push(&world.zoe, &op).problem(404, "not-found");
        register(&world.zoe, &world.room, &Pen::new()).problem(404, "not-found");
        world.stranger().post(&format!("/api/v1/streams/{}/ops", world.room), &op).problem(401, "not-signed-in");
        assert_eq!(world.everything(), before);
    }

    /// What this server does not know yet, it does not guess.
    fn an_unknown_kind_or_field_is_not_taken(engine) {
        let world = World::new(engine);
        let unknown = [
            world.adas.op(json!({"op": "tank.painted", "tank": id()})),
            world.adas.op(json!({"op": "tank.polished", "target": id(), "fields": []})),
            with(world.adas.op(tank("B1")), "/body/colour", json!("blue")),
            with(world.adas.op(tank("B1")), "/mood", json!("good")),
        ];
        for op in unknown {
            world.refused(&world.ada, &json!({"op": op}), "op-unknown");
        }
    }

    /// The first accepted bytes of an id are the op; who brings others gets a copy.
    fn a_changed_body_under_an_old_id_is_not_taken(engine) {
        let world = World::new(engine);
        let first = world.adas.op(tank("B1"));
        let seq = world.taken(std::slice::from_ref(&first))[0];
        let changes = [("/body/name", json!("B2")), ("/at", json!("2020-01-01T00:00:00Z"))];
        for (pointer, value) in changes {
            let result = world.refused(&world.ada, &json!({"op": with(first.clone(), pointer, value)}), "id-taken");
            assert_eq!(result["op"], first);
            assert_eq!(result["seq"], seq);
        }
        // the same again is no harm, in whatever order its fields come
        let text = format!(
            r#"{{"ops":[{{"op":{{"body":{},"id":{},"at":{},"device":{},"clock":{}}}}}]}}"#,
            first["body"], first["id"], first["at"], first["device"], first["clock"]
        );
        let before = world.everything();
        let again = world.push(&world.ada, &serde_json::from_str(&text).expect("JSON")).expect(200).json();
        assert_eq!(again["results"], json!([{"id": first["id"], "seq": seq}]));
        assert_eq!(world.everything(), before);
    }

    /// A clock that runs ahead refuses the whole push, good ops and all, and is told by how much.
    fn a_clock_in_the_future_refuses_the_whole_push(engine) {
        let world = World::new(engine);
        let minutes = |n: i64| pen::now_ms() + n * 60_000;
        let ahead = world.adas.op_at(minutes(6), tank("B2"));
        let problem = world.refused_whole(&push(&[world.adas.op(tank("B1")), ahead.clone()]), 409, "clock-ahead");
        let clocks = [&problem["now"], &problem["limit"]].map(|c| c.as_str().expect("a clock").to_owned());
        assert!(clocks[0].as_str() < clocks[1].as_str() && clocks[1].as_str() < ahead["clock"].as_str().expect("one"));
        // four minutes are let pass
        world.taken(&[world.adas.op_at(minutes(4), tank("B3"))]);
        // one that was accepted already does not count as new
        world.taken(&[world.adas.op_at(minutes(4) + 500, tank("B4"))]);
    }

    /// An op is never dated after the clock that wrote it.
    fn an_op_dated_after_its_clock_is_not_taken(engine) {
        let world = World::new(engine);
        let late = with(world.adas.op(tank("B1")), "/at", json!("2999-01-01T00:00:00Z"));
        world.refused(&world.ada, &json!({"op": late}), "at-ahead");
    }

    /// A receipt vouches for one op, its account, its time and its mark; nothing of it can be swapped. With all of
    /// it an op comes back after a restore, from whoever may write, as what it was.
    fn a_forged_receipt_is_not_taken(engine) {
        let mut world = World::new(engine);
        world.0.server.stop();
        let before = world.server.database().snapshot();
        world.0.server.start_again();
        let op = world.adas.op(tank("B1"));
        world.taken(std::slice::from_ref(&op));
        let pulled = world.pull()["ops"][1].clone();
        assert_eq!(pulled["op"], op);
        world.0.server.stop();
        world.server.database().roll_back(&before);
        world.0.server.start_again();

        let good = json!({"by": pulled["by"], "received": pulled["received"], "decision": false,
            "mac": pulled["receipt"]});
        let now = format!("{}Z", &pen::clock(pen::now_ms())[..19]);
        let decision = json!({"op": "home_club.set", "club": world.club.id, "from": now, "relies": []});
        let received = pulled["received"].as_i64().expect("a time");
        let forged = [
            (op.clone(), with(good.clone(), "/received", json!(received + 1))),
            (op.clone(), with(good.clone(), "/by", json!(world.ben.account))),
            (op.clone(), with(good.clone(), "/decision", json!(true))),
            (op.clone(), with(good.clone(), "/mac", json!("0".repeat(32)))),
            (op.clone(), with(good.clone(), "/mac", json!(""))),
            (with(op.clone(), "/body/name", json!("B2")), good.clone()),
            (world.adas.op(tank("B3")), good.clone()),
            (world.adas.op(decision), with(good.clone(), "/decision", json!(true))),
        ];
        for (op, receipt) in forged {
            world.refused(&world.ada, &json!({"op": op, "receipt": receipt}), "receipt-forged");
        }
        let back = world.push(&world.ben, &json!({"ops": [{"op": op, "receipt": good}]})).expect(200).json();
        let seq = back["results"][0]["seq"].as_u64().unwrap_or_else(|| panic!("not taken: {back}"));
        let again = world.pull()["ops"][seq as usize - 1].clone();
        for member in ["op", "by", "received", "decision", "receipt"] {
            assert_eq!(again[member], pulled[member]);
        }
    }

    /// Too much is refused before it is read to its end.
    fn an_oversized_push_is_refused(engine) {
        let world = World::new(engine);
        let long = world.adas.op(json!({"op": "note.written", "text": "x".repeat(17 * 1024)}));
        world.refused(&world.ada, &json!({"op": long}), "op-too-large");
        let many: Vec<Value> = (0..1001).map(|n| world.adas.op(tank(&format!("M{n}")))).collect();
        world.refused_whole(&push(&many), 413, "push-too-large");
        let note = || world.adas.op(json!({"op": "note.written", "text": "x".repeat(15 * 1024)}));
        let big: Vec<Value> = (0..300).map(|_| note()).collect();
        world.refused_whole(&push(&big), 413, "push-too-large");
        // a small body that grows to five MiB
        let before = world.everything();
        let request = world.ada.caller.request(Method::POST, &format!("/api/v1/streams/{}/ops", world.room));
        let bomb = gzip(format!("{{\"ops\":[],\"pad\":\"{}\"}}", " ".repeat(5 << 20)).as_bytes());
        assert!(bomb.len() < 64 * 1024);
        let request = request.header("content-type", "application/json").header("content-encoding", "gzip").body(bomb);
        send(request).problem(413, "push-too-large");
        assert_eq!(world.everything(), before);
        // as many as are allowed are taken
        world.taken(&many[..1000]);
    }

    /// Only a broken outer document refuses the whole push; each op is read alone.
    fn a_malformed_push_is_refused(engine) {
        let world = World::new(engine);
        let before = world.everything();
        for broken in ["", "{", "[]", "null", "{\"ops\":{}}", "{\"ops\":[],\"more\":1}", "{}", "\u{0}", "{\"ops\":[}"] {
            let request = world.ada.caller.request(Method::POST, &format!("/api/v1/streams/{}/ops", world.room));
            let request = request.header("content-type", "application/json").body(broken);
            send(request).problem(400, "malformed");
        }
        assert_eq!(world.everything(), before);
        let good = || world.adas.op(tank("B1"));
        let broken = [
            json!({"op": 1}),
            json!({"op": {}}),
            json!({}),
            json!(7),
            json!([]),
            json!({"op": good(), "extra": 1}),
            json!({"op": with(good(), "/id", json!("not an id"))}),
            json!({"op": with(good(), "/id", json!(uuid::Uuid::new_v4()))}),
            json!({"op": with(good(), "/device", json!(null))}),
            json!({"op": with(good(), "/clock", json!("2026-03-01T09:30:00Z"))}),
            json!({"op": with(good(), "/at", json!("2026-03-01T09:30:00.5Z"))}),
            json!({"op": with(good(), "/at", json!("2026-03-01T09:30:00+00:00"))}),
            json!({"op": with(good(), "/body/name", json!(1))}),
            json!({"op": with(good(), "/body/volume_ml", json!(1.5))}),
            json!({"op": with(good(), "/body/volume_ml", json!(1u64 << 60))}),
            json!({"op": with(good(), "/body", json!("tank"))}),
        ];
        for bad in broken {
            world.refused(&world.ada, &bad, "op-malformed");
        }
    }

    /// What an op speaks of must be in its own room.
    fn a_lost_reference_is_not_taken(engine) {
        let world = World::new(engine);
        let theirs = tank("Z1");
        let op = push(&[world.zoes.op(theirs.clone())]);
        world.zoe.caller.post(&format!("/api/v1/streams/{}/ops", world.other_room), &op).expect(200);
        let lost = [
            json!({"op": "tank.described", "tank": id(), "stand": "left"}),
            json!({"op": "tank.described", "tank": theirs["tank"], "stand": "left"}),
            json!({"op": "stock.established", "stock": id(), "tank": theirs["tank"], "rows": []}),
            json!({"op": "op.withdrawn", "entry": id()}),
        ];
        for body in lost {
            let result = world.refused(&world.ada, &json!({"op": world.adas.op(body)}), "missing-reference");
            assert!(!result["problem"]["detail"].as_str().unwrap_or_default().contains("Z1"), "{result}");
        }
    }
}

fn gzip(content: &[u8]) -> Vec<u8> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(content).expect("memory takes it");
    encoder.finish().expect("memory takes it")
}
