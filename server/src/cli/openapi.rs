//! `tarn-server openapi`: the API document and the catalogue of ops, as they are checked in under `openapi/`.

use std::path::{Path, PathBuf};

use super::Done;

/// Arguments of `openapi`.
#[derive(clap::Args)]
pub struct Args {
    /// Print the catalogue of ops instead of the API document
    #[arg(long)]
    ops: bool,
    /// Write both, tarn.json and ops.json, into this folder
    #[arg(long, value_name = "DIR", conflicts_with = "ops")]
    write: Option<PathBuf>,
}

/// Runs it.
pub fn run(args: &Args) -> Done {
    match &args.write {
        Some(folder) => {
            save(&folder.join("tarn.json"), &document()?)?;
            save(&folder.join("ops.json"), &catalogue()?)
        }
        None if args.ops => super::print(&catalogue()?),
        None => super::print(&document()?),
    }
}

fn document() -> Result<String, String> {
    crate::app::document().to_pretty_json().map(|text| text + "\n").map_err(|err| err.to_string())
}

fn catalogue() -> Result<String, String> {
    let catalogue = tarn_domain::catalogue::published();
    serde_json::to_string_pretty(&catalogue).map(|text| text + "\n").map_err(|err| err.to_string())
}

fn save(file: &Path, text: &str) -> Done {
    std::fs::write(file, text).map_err(|err| format!("{}: {err}", file.display()))
}
