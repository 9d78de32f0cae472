//! Push of 100,000 ops in batches of 500 over one connection into a room of 200 stocks and 100 tanks, all
//! projections on, beside the bare insert of the same rows; turn by turn, so that whatever else the machine does
//! falls on both. Ends with 1 if the push has less than 0.4 of the insert's speed.
//!
//! ```text
//! cargo bench -p tarn-tests --bench push [-- [sqlite|postgres] [OPS]]
//! ```
#![allow(clippy::disallowed_methods, reason = "a driver measures")]

mod durable;
mod limit;
mod room;
mod season;
mod wire;

use std::process::ExitCode;
use std::time::Duration;

use tarn_tests::engine::Engine;

const BATCH: usize = 500;
/// So many batches before the other side has its turn.
const TURN: usize = 10;
const LEAST: f64 = 0.4;

fn main() -> ExitCode {
    let said: Vec<String> = std::env::args().skip(1).collect();
    let ops = said.iter().find_map(|word| word.parse().ok()).unwrap_or(100_000);
    let wanted = |engine: &Engine| {
        !said.iter().any(|w| w == "sqlite" || w == "postgres") || said.contains(&engine.name().to_owned())
    };
    let mut enough = true;
    for engine in [Engine::Sqlite, Engine::Postgres].into_iter().filter(wanted) {
        enough &= measure(engine, ops) >= LEAST;
    }
    if enough { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// The share of the limit that the push reaches.
fn measure(engine: Engine, ops: usize) -> f64 {
    let mut room = room::Room::open(engine);
    let durable = (engine == Engine::Postgres).then(|| durable::Durable::make(room.server.database()));
    let mut limit = limit::Limit::open(room.server.database(), room.stream, room.device, BATCH);
    let (mut pushed, mut inserted, mut bytes) = (Duration::ZERO, Duration::ZERO, 0);
    for _ in 0..ops / (BATCH * TURN) {
        let batches: Vec<_> = (0..TURN).map(|_| room.season.batch(BATCH)).collect();
        bytes += batches.iter().flatten().map(|op| op.text.len()).sum::<usize>();
        for batch in &batches {
            pushed += room.push(batch);
        }
        for batch in &batches {
            inserted += limit.insert(batch);
        }
    }
    drop(durable);
    let done = ops / (BATCH * TURN) * BATCH * TURN;
    let a_second = |took: Duration| done as f64 / took.as_secs_f64();
    let share = a_second(pushed) / a_second(inserted);
    println!(
        "push  {:8}  {done} ops of {} bytes: {:6.0} ops/s; bare insert {:6.0} rows/s; ratio {share:.2} (at least {LEAST})",
        engine.name(),
        bytes / done.max(1),
        a_second(pushed),
        a_second(inserted),
    );
    share
}
