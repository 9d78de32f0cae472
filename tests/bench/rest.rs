//! What a server takes in memory at rest: started, one room synced, nothing to do. Ends with 1 above 60 MiB.
//!
//! ```text
//! cargo bench -p tarn-tests --bench rest
//! ```
#![allow(clippy::disallowed_methods, reason = "a driver measures")]

mod memory;
mod room;
mod season;
mod wire;

use std::process::ExitCode;

use tarn_tests::engine::Engine;

const MOST_MIB: f64 = 60.0;

fn main() -> ExitCode {
    tarn_tests::contract::hold_nothing();
    let mut small = true;
    for engine in [Engine::Sqlite, Engine::Postgres] {
        let mut room = room::Room::open(engine);
        let ops = room.season.batch(100);
        room.push(&ops);
        let epoch =
            room.keeper.caller.get("/api/v1/streams").expect(200).json()["streams"][0]["epoch"].clone();
        let epoch = epoch.as_str().expect("an epoch").to_owned();
        let pull = format!("/api/v1/streams/{}/ops?epoch={epoch}&after=0", room.stream);
        room.keeper.caller.get(&pull).expect(200);
        // what it does after an answer, it does within this
        std::thread::sleep(std::time::Duration::from_secs(3));
        let (rss, peak) = memory::of(memory::server());
        println!("rest  {:8}  {rss:.1} MiB resident, {peak:.1} at most (at most {MOST_MIB})", engine.name());
        small &= rss <= MOST_MIB;
    }
    if small { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
