#![forbid(unsafe_code)]
#![allow(clippy::disallowed_methods)]
//! `cargo demo`: builds the programs, plays one club's season on SQLite in a fresh folder, prints the addresses and
//! logins, and keeps serving. `--once` ends when the season has been played, with status 0 if every step gave
//! what it should.

use std::process::{Command, ExitCode};

use tarn_tests::engine::Engine;
use tarn_tests::season::{PASSWORD, Season};

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let once = match arguments.as_slice() {
        [] => false,
        [only] if only == "--once" => true,
        _ => {
            eprintln!("cargo demo [--once]");
            return ExitCode::from(2);
        }
    };
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".into());
    let built = Command::new(cargo).args(["build", "--quiet", "--workspace", "--bins"]).status();
    if !built.is_ok_and(|status| status.success()) {
        eprintln!("The programs could not be built.");
        return ExitCode::FAILURE;
    }
    println!("A season of an invented club, on a clock that begins 112 days ago:\n");
    let season = Season::play(Engine::Sqlite, |line| println!("{line}"));
    println!("\nEvery step gave what it should.");
    if once {
        return ExitCode::SUCCESS;
    }
    let url = season.url();
    println!("\nThe server goes on: {url}  (API: {url}/docs/)");
    println!("Sign in as odile (health steward), marta or jonas; the password is: {PASSWORD}");
    println!("As Jonas on the command line: tarn --data {} stock list", season.jonas.folder().display());
    println!("Ctrl-C ends it and removes its folder.");
    wait();
    ExitCode::SUCCESS
}

/// Until Ctrl-C or a request to end.
fn wait() {
    let runtime =
        tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime can be made");
    runtime.block_on(async {
        let mut term = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate())
            .expect("signals can be heard");
        tokio::select! {
            _ = tokio::signal::ctrl_c() => {}
            _ = term.recv() => {}
        }
    });
}
