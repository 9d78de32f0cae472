//! `tarn-server backup`: everything in one file, while the server may go on.

use std::path::PathBuf;

use super::{Done, tables};
use crate::platform::config::Settings;
use crate::platform::html::rfc3339;
use crate::platform::{Ctx, archive};

/// Arguments of `backup`.
#[derive(clap::Args)]
pub struct Args {
    /// The file to write; it must not be there yet
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

/// Runs it.
pub async fn run(settings: &Settings, args: &Args) -> Done {
    if args.file.exists() {
        return Err(format!("{} is there already", args.file.display()));
    }
    let told = |err: &dyn std::fmt::Display| err.to_string();
    let ctx = Ctx::open(super::offline(settings)?).await.map_err(|err| told(&err))?;
    let snapshot = ctx.db.snapshot().await.map_err(|err| told(&err))?;
    let made_at = rfc3339(ctx.clock.now_ms());
    let manifest = archive::write(&snapshot, &tables::all(), made_at, &args.file).await?;
    let rows: u64 = manifest.tables.iter().map(|table| table.rows).sum();
    eprintln!(
        "{rows} rows of {} tables are in {}. Keep it as safe as the server: it holds its keys.",
        manifest.tables.len(),
        args.file.display()
    );
    Ok(())
}
