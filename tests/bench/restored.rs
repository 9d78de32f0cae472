//! A server is lost whose last backup is from before 10,000 of its decisions: a keeper's own device brings all of them
//! back by their receipts. Ends with 1 unless every entry is on the new server once, with its bytes, its owner, its time
//! of receipt and its mark as before, and `check` finds nothing.
//!
//! ```text
//! cargo bench -p tarn-tests --bench restored [-- sqlite|postgres]
//! ```
#![allow(clippy::disallowed_methods, reason = "a driver measures")]

use std::process::ExitCode;
use std::time::Instant;

use serde_json::{Value, json};
use tarn_tests::api::Caller;
use tarn_tests::database::Database;
use tarn_tests::engine::Engine;
use tarn_tests::keeper::Keeper;
use tarn_tests::pen::{Pen, id, now_ms, push, tank};
use tarn_tests::people::{Club, Person};
use tarn_tests::place::Folder;
use tarn_tests::server::Server;
use tarn_tests::society::register;
use uuid::Uuid;

const DECISIONS: usize = 10_000;
/// Longer than the rule waits for fish that are newly known; the server begins 45 days ago.
const LONG_AGO_MS: i64 = 46 * 86_400_000;
/// Parcels packed and handed in one push.
const AT_ONCE: usize = 25;

fn main() -> ExitCode {
    tarn_tests::contract::hold_nothing();
    let said: Vec<String> = std::env::args().skip(1).collect();
    let wanted = |engine: &Engine| {
        !said.iter().any(|w| w == "sqlite" || w == "postgres") || said.contains(&engine.name().to_owned())
    };
    let mut all = true;
    for engine in [Engine::Sqlite, Engine::Postgres].into_iter().filter(wanted) {
        all &= measure(engine);
    }
    if all { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// Whenever it was received and whether it was decided, by whom, and its bytes; in a fixed order.
fn entries(database: &Database) -> Vec<(i64, Uuid, String)> {
    let received = "received * 2 + CASE WHEN decision THEN 1 ELSE 0 END";
    let mut all = database.read(&format!("SELECT {received}, by_account, body FROM ops"), &[]);
    all.sort_unstable();
    all
}

/// A room with fish in it that hands them out.
struct Giver {
    who: Person,
    room: String,
    pen: Pen,
    stock: String,
    node: String,
}

impl Giver {
    fn put(&self, ops: Vec<Value>) {
        let path = format!("/api/v1/streams/{}/ops", self.room);
        let told = self.who.caller.post(&path, &push(&ops)).expect(200).json();
        let taken = told["results"].as_array().into_iter().flatten().all(|r| r["seq"].is_u64());
        assert!(taken, "{told}");
    }

    /// The fish are there so long before that they may leave.
    fn new(who: Person) -> Self {
        let giver = Self { who, room: id(), pen: Pen::new(), stock: id(), node: id() };
        let Self { who, room, pen, stock, node } = &giver;
        who.caller.post("/api/v1/rooms", &json!({"id": room, "name": "Cellar", "zone": "UTC"})).expect(201);
        register(who, room, pen).expect(200);
        let (place, then) = (tank("A1"), now_ms() - LONG_AGO_MS);
        let bodies = [
            place.clone(),
            json!({"op": "stock.established", "stock": stock, "tank": place["tank"], "species": "Danio rerio",
            "rows": [{"node": node, "sex": "unsexed", "n": DECISIONS + 10}],
            "founders": {"node": node, "origin": "bought", "related": "not_known"}}),
        ];
        giver.put(bodies.into_iter().map(|body| pen.op_at(then, body)).collect());
        giver
    }

    /// As many parcels as decisions: each is decided to be sent.
    fn hand_out(&self) {
        let Self { stock, node, .. } = self;
        for _ in 0..DECISIONS / AT_ONCE {
            let each = (0..AT_ONCE).flat_map(|_| {
                let parcel = id();
                let rows = json!([{"stock": stock, "node": node, "sex": "unsexed", "n": 1}]);
                [
                    json!({"op": "parcel.packed", "parcel": parcel, "rows": rows}),
                    json!({"op": "parcel.handed", "parcel": parcel}),
                ]
            });
            self.put(each.map(|body| self.pen.op(body)).collect());
        }
    }
}

fn measure(engine: Engine) -> bool {
    let mut server = Server::start_at(engine, "-45d");
    let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
    let mut giver = Giver::new(club.member("odran", None));
    server.stop();
    server.set_clock("0d");
    server.start_again();
    giver.who = giver.who.sign_in(&Caller::stranger(&server));
    let folder = Folder::new("restored");
    let file = folder.path().join("before.tar.zst").to_string_lossy().into_owned();
    server.command(&["backup", &file]).expect(0);

    giver.hand_out();
    let decided = server.database().count("SELECT count(*) FROM ops WHERE decision");
    let device = Keeper::new("odran");
    device.log_in(&server.url(""), "odran");
    let before = entries(server.database());

    server.stop();
    server.move_to(Database::empty(engine));
    server.command(&["restore", &file]).expect(0);
    server.start_again();
    let begun = Instant::now();
    // the backup knows nothing of the device's session
    device.log_in(&server.url(""), "odran");
    let took = begun.elapsed().as_secs_f64();
    let after = entries(server.database());
    let checked = server.command(&["check"]).code == Some(0);
    println!(
        "restored  {:8}  {decided} decisions, {} entries: {} came back as they were in {took:.1} s; check {}",
        engine.name(),
        before.len(),
        before.iter().filter(|entry| after.binary_search(entry).is_ok()).count(),
        if checked { "finds nothing" } else { "finds faults" }
    );
    decided >= DECISIONS as i64 && before == after && checked
}
