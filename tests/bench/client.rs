//! The real `tarn` beside its bounds: a new device pulls 200,000 ops and folds them in under 10 s; a local command
//! takes under 30 ms of processor time with 10,000 ops in the room, and under 150 ms with 200,000. Ends with 1 if one
//! of them is missed.
//!
//! ```text
//! cargo bench -p tarn-tests --bench client
//! ```
#![allow(clippy::disallowed_methods, reason = "a driver measures")]

mod room;
mod season;
mod wire;

use std::process::{Command, ExitCode};
use std::time::{Duration, Instant};

use season::Season;
use tarn_tests::engine::Engine;
use tarn_tests::keeper::Keeper;
use tarn_tests::people::PASSWORD;
use tarn_tests::process;

const BATCH: usize = 500;
/// Stands for one of two tanks by turns: fish can't be moved to where they are.
const OTHER_TANK: &str = "A8-or-A9";
/// How often each command is run.
const RUNS: u32 = 20;

fn main() -> ExitCode {
    tarn_tests::contract::hold_nothing();
    let mut room = room::Room::open(Engine::Sqlite);
    let mut well = true;
    let mut made = 0;
    for (ops, pull_bound, local_bound) in [(10_000, 10.0, 30.0), (200_000, 10.0, 150.0)] {
        while made < ops {
            let batch = room.season.batch(BATCH);
            room.push(&batch);
            made += BATCH;
        }
        let keeper = Keeper::new("bench");
        let url = room.server.url("");
        let line = ["login", &url, "--login", &room.keeper.login, "--password-stdin"];
        keeper.run_with_input(&line, &format!("{PASSWORD}\n")).expect(0);
        let begun = Instant::now();
        keeper.done(&["sync"]);
        let took = begun.elapsed().as_secs_f64();
        println!("pull   {ops:6} ops by a new device with its fold: {took:5.2} s (at most {pull_bound} s)");
        well &= took <= pull_bound;
        keeper.done(&["room", "use", "Cellar"]);
        for command in commands() {
            let words: Vec<&str> = command.iter().map(String::as_str).collect();
            let ms = cpu(&keeper, &words).as_secs_f64() * 1000.0;
            println!("local  {ops:6} ops, {:40} {ms:6.1} ms of CPU (at most {local_bound})", words.join(" "));
            well &= ms <= local_bound;
        }
    }
    if well { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn commands() -> Vec<Vec<String>> {
    let stock = Season::stock_name(17);
    let lines: [&[&str]; 6] = [
        &["stock", "lost", &stock, "1 m", "--cause", "jumped"],
        &["food", "given", "flakes", "--tank", "A7"],
        &["stock", "move", &stock, OTHER_TANK],
        &["stock", "show", &stock],
        &["stock", "list"],
        &["wrong"],
    ];
    lines.iter().map(|line| line.iter().map(|word| (*word).to_owned()).collect()).collect()
}

/// The processor time of one run, user and system, on average: what bash's `times` says of its children.
fn cpu(keeper: &Keeper, words: &[&str]) -> Duration {
    let command = keeper.command(words);
    let mut shell = Command::new("bash");
    let once = format!("\"${{@//{OTHER_TANK}/A$((8 + n % 2))}}\" >/dev/null 2>&1");
    // Wherever the fish are, they are in A8 after the first.
    let script = format!("n=0; {once}; for n in $(seq {RUNS}); do {once} || exit 9; done; times");
    shell
        .args(["-c", &script, "bash"])
        .arg(command.get_program())
        .args(command.get_args())
        .env("NO_COLOR", "1");
    let ran = process::run(&mut shell).expect(0);
    let children = ran.stdout.lines().nth(1).unwrap_or_else(|| panic!("no times: {ran}"));
    children.split_whitespace().map(span).sum::<Duration>() / (RUNS + 1)
}

/// "0m0.012s", as bash writes it.
fn span(text: &str) -> Duration {
    let (minutes, seconds) = text.trim_end_matches('s').split_once('m').expect("minutes and seconds");
    let seconds: f64 = seconds.parse().expect("seconds");
    Duration::from_secs(minutes.parse::<u64>().expect("minutes") * 60) + Duration::from_secs_f64(seconds)
}
