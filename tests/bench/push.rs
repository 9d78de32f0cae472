//! Push of 100,000 ops in batches of 500 over one connection into a room of 200 stocks and 100 tanks, all
//! projections on, beside the bare insert of the same rows, through the library and by hand; turn by turn, so that
//! whatever else the machine does falls on all. Ends with 1 if the push has less than 0.4 of the speed of the library's
//! insert.
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
    tarn_tests::contract::hold_nothing();
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
    let whose = limit::Whose { stream: room.stream, device: room.device };
    let mut library = limit::Library::open(room.server.database(), whose);
    let mut prepared = limit::Prepared::open(room.server.database(), whose, BATCH);
    let [mut pushed, mut inserted, mut bound] = [Duration::ZERO; 3];
    let (mut done, mut bytes) = (0, 0);
    while done < ops {
        let batches: Vec<_> = (0..TURN).map(|_| room.season.batch(BATCH)).collect();
        done += BATCH * TURN;
        bytes += batches.iter().flatten().map(|op| op.text.len()).sum::<usize>();
        pushed += batches.iter().map(|batch| room.push(batch)).sum::<Duration>();
        inserted += batches.iter().map(|batch| library.insert(batch)).sum::<Duration>();
        bound += batches.iter().map(|batch| prepared.insert(batch)).sum::<Duration>();
    }
    drop(durable);
    let a_second = |took: Duration| done as f64 / took.as_secs_f64();
    let share = |of: Duration| a_second(pushed) / a_second(of);
    let name = engine.name();
    println!("push  {name:8}  {done} ops of {} bytes: {:6.0} ops/s", bytes / done, a_second(pushed));
    println!(
        "push  {name:8}  insert_many      {:6.0} rows/s; ratio {:.2} (at least {LEAST})",
        a_second(inserted),
        share(inserted)
    );
    println!("push  {name:8}  prepared by hand {:6.0} rows/s; ratio {:.2}", a_second(bound), share(bound));
    share(inserted)
}
