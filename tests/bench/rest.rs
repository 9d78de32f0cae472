//! What a server takes in memory at rest: started, one room synced, nothing to do. Ends with 1 above 60 MiB.
//!
//! ```text
//! cargo bench -p tarn-tests --bench rest
//! ```
#![allow(clippy::disallowed_methods, reason = "a driver measures")]

mod room;
mod season;
mod wire;

use std::process::ExitCode;

use tarn_tests::engine::Engine;

const MOST_MIB: f64 = 60.0;

fn main() -> ExitCode {
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
        let (rss, peak) = memory(server());
        println!("rest  {:8}  {rss:.1} MiB resident, {peak:.1} at most (at most {MOST_MIB})", engine.name());
        small &= rss <= MOST_MIB;
    }
    if small { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// The child of this process that is the server.
fn server() -> u32 {
    let me = std::process::id().to_string();
    let mut all = std::fs::read_dir("/proc")
        .expect("Linux")
        .flatten()
        .filter_map(|e| e.file_name().to_str()?.parse().ok());
    all.find(|process: &u32| {
        // proc_pid_stat(5): "pid (name) state parent …"
        let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap_or_default();
        stat.contains("(tarn-server)")
            && stat.rsplit(')').next().and_then(|s| s.split_whitespace().nth(1)) == Some(&me)
    })
    .expect("the server runs")
}

/// Resident now, and at most so far, in MiB (proc_pid_status(5)).
fn memory(process: u32) -> (f64, f64) {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).expect("the server runs");
    let of = |name: &str| {
        let line = status.lines().find_map(|line| line.strip_prefix(name)).expect("Linux says it");
        line.split_whitespace().next().and_then(|kib| kib.parse::<f64>().ok()).expect("a number of KiB")
            / 1024.0
    };
    (of("VmRSS:"), of("VmHWM:"))
}
