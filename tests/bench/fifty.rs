//! Fifty devices of fifty keepers sync at once, each a season of its room, and follow it: what the server takes in memory.
//! Ends with 1 above 400 MiB at any time.
//!
//! ```text
//! cargo bench -p tarn-tests --bench fifty [-- sqlite|postgres]
//! ```
#![allow(clippy::disallowed_methods, reason = "a driver measures")]

mod memory;
mod season;
mod wire;

use std::process::ExitCode;
use std::time::Instant;

use serde_json::{Value, json};
use tarn_tests::engine::Engine;
use tarn_tests::events::Events;
use tarn_tests::people::{Club, Person};
use tarn_tests::server::Server;
use uuid::Uuid;

use season::Season;

const CLIENTS: usize = 50;
/// Batches of 500 ops that each pushes.
const BATCHES: usize = 6;
const BATCH: usize = 500;
const MOST_MIB: f64 = 400.0;

fn main() -> ExitCode {
    tarn_tests::contract::hold_nothing();
    let said: Vec<String> = std::env::args().skip(1).collect();
    let wanted = |engine: &Engine| {
        !said.iter().any(|w| w == "sqlite" || w == "postgres") || said.contains(&engine.name().to_owned())
    };
    let mut small = true;
    for engine in [Engine::Sqlite, Engine::Postgres].into_iter().filter(wanted) {
        small &= measure(engine) <= MOST_MIB;
    }
    if small { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

struct Client {
    who: Person,
    room: Uuid,
    season: Season,
    epoch: String,
}

impl Client {
    fn new(club: &Club, n: usize) -> Self {
        let who = club.member(&format!("keeper{n}"), None);
        let (room, device) = (Uuid::now_v7(), Uuid::now_v7());
        who.caller.post("/api/v1/rooms", &json!({"id": room, "name": "Room", "zone": "UTC"})).expect(201);
        let path = format!("/api/v1/streams/{room}/devices/{device}");
        let told = who.caller.put(&path, &json!({"name": "driver"})).expect(200).json();
        let epoch = told["epoch"].as_str().expect("an epoch").to_owned();
        Self { who, room, season: Season::new(n as u64, device), epoch }
    }

    fn push(&self, ops: &[season::Written]) {
        let texts: Vec<Value> = ops
            .iter()
            .map(|op| json!({"op": serde_json::from_str::<Value>(&op.text).expect("JSON")}))
            .collect();
        let path = format!("/api/v1/streams/{}/ops", self.room);
        let told = self.who.caller.post(&path, &json!({ "ops": texts })).expect(200).json();
        let taken = told["results"].as_array().into_iter().flatten().all(|r| r["seq"].is_u64());
        assert!(taken, "{told}");
    }

    /// Pushes a season, follows the stream meanwhile, and pulls all of it as a new device would.
    fn sync(&mut self) {
        let live = format!("/api/v1/streams/{}/live?epoch={}&after=0", self.room, self.epoch);
        let caller = self.who.caller.clone();
        let follows = std::thread::spawn(move || {
            let mut events = Events::open(&caller, &live, None);
            for _ in 0..BATCH {
                events.expect("op");
            }
            events
        });
        for ops in self.season.setting_up().chunks(50) {
            self.push(ops);
        }
        for _ in 0..BATCHES {
            let ops = self.season.batch(BATCH);
            self.push(&ops);
        }
        let _open = follows.join().expect("it follows");
        let path = format!("/api/v1/streams/{}/ops?epoch={}&after=0&limit=10000", self.room, self.epoch);
        self.who.caller.get(&path).expect(200);
    }
}

fn measure(engine: Engine) -> f64 {
    let server = Server::start(engine);
    let club = Club::found(&server, "Kettle Lane Fishkeepers", "ines");
    let mut clients: Vec<Client> = (0..CLIENTS).map(|n| Client::new(&club, n)).collect();
    let begun = Instant::now();
    std::thread::scope(|scope| {
        for client in &mut clients {
            scope.spawn(move || client.sync());
        }
    });
    let took = begun.elapsed().as_secs_f64();
    let (resident, most) = memory::of(memory::server());
    println!(
        "fifty  {:8}  {CLIENTS} clients, {} ops each, synced and followed in {took:.0} s: {most:.0} MiB at most (at most {MOST_MIB}), \
         {resident:.0} afterwards",
        engine.name(),
        BATCH * BATCHES
    );
    most
}
