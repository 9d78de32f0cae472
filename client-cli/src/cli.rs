//! The command line as a whole: what every command takes, and how a command's end becomes an exit code.

use std::ffi::OsString;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, error::ErrorKind};

use crate::commands::Command;
use crate::failure::{Exit, Failure, Outcome};
use crate::output::Output;
use crate::tarn::Tarn;
use crate::when::span_ms;

const EXAMPLES: &str = "Examples:
  tarn room create \"Cellar\" --zone Europe/Berlin
  tarn tank add A1 --stand left --volume 54l
  tarn stock add \"Blue guppies\" 2.3.10 --tank A1 --species \"Poecilia reticulata\"
  tarn stock lost \"Blue\" 1 m --cause jumped --at \"yesterday 18:00\"
  tarn wrong                       takes the last entry back
  tarn login https://club.example --login mira
  tarn sync";

const AFTER: &str =
    "Everything but login, join, sync, notices, swaps and what concerns a club works without a network.
Exit codes: 0 done, 1 refused or failed, 2 wrong use, 3 needs a network, 4 needs a login.";

/// Records of a fish room, kept here and synced when there is a network
#[derive(Debug, Parser)]
#[command(name = "tarn", version, before_help = EXAMPLES, after_help = AFTER, infer_subcommands = false)]
#[command(disable_help_subcommand = true, arg_required_else_help = true)]
pub struct Cli {
    /// Where the records are [default: tarn in the XDG data folder]
    #[arg(long, global = true, env = "TARN_DATA", value_name = "DIR")]
    data: Option<PathBuf>,
    /// The room, if it isn't the one in use
    #[arg(long, global = true, env = "TARN_ROOM", value_name = "ROOM")]
    room: Option<String>,
    /// Answers as JSON
    #[arg(long, global = true)]
    json: bool,
    /// Shifts this device's clock, as +10m, -36h or 21d; for tests and the demo
    #[arg(long, global = true, env = "TARN_CLOCK_OFFSET", value_name = "DUR", allow_hyphen_values = true)]
    clock_offset: Option<String>,
    #[command(subcommand)]
    command: Command,
}

/// Runs the command line of this process.
pub fn main() -> ExitCode {
    run(std::env::args_os())
}

/// Runs a command line.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let cli = match Cli::try_parse_from(arguments) {
        Ok(cli) => cli,
        Err(error) => {
            // a closed pipe is no error, help is no failure
            let _ = error.print();
            let asked = matches!(error.kind(), ErrorKind::DisplayHelp | ErrorKind::DisplayVersion);
            return if asked { ExitCode::SUCCESS } else { ExitCode::from(Exit::WrongUse as u8) };
        }
    };
    let out = Output::new(cli.json);
    match start(cli) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            out.say(&format!("tarn: {}", failure.says));
            if let Some(hint) = failure.hint {
                out.say(&format!("  {hint}"));
            }
            ExitCode::from(failure.exit as u8)
        }
    }
}

fn start(cli: Cli) -> Outcome {
    let command = match cli.command {
        // needs no records
        Command::Completions(completions) => return completions.run(),
        Command::Man(man) => return man.run(),
        command => command,
    };
    let offset = cli.clock_offset.as_deref().filter(|text| !text.is_empty());
    let offset_ms = offset.map(span_ms).transpose().map_err(Failure::wrong_use)?.unwrap_or(0);
    let mut tarn = Tarn::open(cli.data, offset_ms, cli.room, cli.json)?;
    if let Some(text) = offset.filter(|_| offset_ms != 0) {
        tarn.out.say(&format!("The clock is shifted by {text} (--clock-offset)."));
    }
    command.run(&mut tarn)
}
