//! `tarn-server openapi`: the API document, as it is checked in at `openapi/tarn.json`.

use std::path::PathBuf;

use super::Done;

/// Arguments of `openapi`.
#[derive(clap::Args)]
pub struct Args {
    /// Write it here instead of to stdout
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
}

/// Runs it.
pub fn run(args: &Args) -> Done {
    let mut text = crate::app::document().to_pretty_json().map_err(|err| err.to_string())?;
    text.push('\n');
    match &args.file {
        Some(file) => std::fs::write(file, text).map_err(|err| format!("{}: {err}", file.display())),
        None => super::print(&text),
    }
}
