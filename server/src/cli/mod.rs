//! The command line of `tarn-server`: one file per command.
//!
//! Reads arguments, calls the actions, says what came of it. No rules.

use clap::{Parser, Subcommand};

use crate::platform::config::{Config, Settings};
use crate::platform::telemetry;

mod account;
mod backup;
mod check;
mod mail;
mod officer;
mod openapi;
mod ready;
mod restore;
mod serve;
mod tables;

/// The society server
///
/// Every setting may be given as a flag, in the environment, or in tarn.toml in the data folder; a flag wins over
/// the environment, the environment over the file. TARN_LOG says what is logged (warn unless it says otherwise),
/// TARN_LOG_FORMAT=json how. Without any, SQLite in ./tarn-data and http://127.0.0.1:8080.
#[derive(Parser)]
#[command(name = "tarn-server", version, after_help = EXAMPLES)]
struct Args {
    #[command(flatten)]
    settings: Settings,
    #[command(subcommand)]
    command: Command,
}

const EXAMPLES: &str = "\
Examples:
  tarn-server serve                                     serve on this machine
  tarn-server officer add --login mira --club Tidepool --role secretary
                                                        make a club and its first officer
  tarn-server backup tarn-2026-05-01.tar.zst            write everything into one file";

#[derive(Subcommand)]
enum Command {
    /// Serve until stopped
    Serve(crate::platform::config::ServeSettings),
    /// Make clubs and their officers
    Officer(officer::Args),
    /// Ask a server that runs here whether it can do its work; for whatever watches it
    Ready(ready::Args),
    /// Help somebody back in
    Account(account::Args),
    /// Compare every stream with what is kept of it
    Check(check::Args),
    /// Write everything into one file; the server may go on meanwhile
    Backup(backup::Args),
    /// Read such a file into an empty database, of SQLite or PostgreSQL
    Restore(restore::Args),
    /// Send mail that waits
    Mail(mail::Args),
    /// Write the API document
    Openapi(openapi::Args),
}

/// Runs what the arguments say; the exit code is 0 when it was done, 1 when it failed, 2 for wrong use.
pub async fn run() -> std::process::ExitCode {
    let args = Args::parse();
    telemetry::begin();
    let done = match args.command {
        Command::Serve(serve) => serve::run(&args.settings, &serve).await,
        Command::Ready(wanted) => ready::run(&args.settings, &wanted).await,
        Command::Officer(wanted) => officer::run(&args.settings, &wanted).await,
        Command::Account(wanted) => account::run(&args.settings, &wanted).await,
        Command::Check(wanted) => check::run(&args.settings, &wanted).await,
        Command::Backup(wanted) => backup::run(&args.settings, &wanted).await,
        Command::Restore(wanted) => restore::run(&args.settings, &wanted).await,
        Command::Mail(wanted) => mail::run(&args.settings, &wanted).await,
        Command::Openapi(openapi) => openapi::run(&openapi),
    };
    match done {
        Ok(()) => std::process::ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("tarn-server: {message}");
            std::process::ExitCode::FAILURE
        }
    }
}

/// What a command gives when it fails: a sentence.
type Done = Result<(), String>;

/// Settings for commands that work on the database and end.
fn offline(settings: &Settings) -> Result<Config, String> {
    Config::load_offline(settings)
}

/// Data goes to stdout; a reader that has gone away is no error.
fn print(text: &str) -> Done {
    use std::io::Write as _;
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(err) if err.kind() != std::io::ErrorKind::BrokenPipe => Err(err.to_string()),
        _ => Ok(()),
    }
}
