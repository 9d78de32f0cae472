//! `tarn-server check`: reads every stream from its first op and compares; safe while the server runs.

use super::{Done, offline, print};
use crate::app;
use crate::platform::Ctx;
use crate::platform::config::Settings;
use crate::streams::actions::check;

/// Arguments of `check`.
#[derive(clap::Args)]
pub struct Args {
    /// Make all projections anew first
    #[arg(long)]
    rebuild: bool,
}

/// Runs it: one line per stream, and a failure if anything is wrong.
pub async fn run(settings: &Settings, args: &Args) -> Done {
    let ctx = Ctx::open(offline(settings)?).await.map_err(|err| err.to_string())?;
    app::prepare(&ctx);
    let all = check(&ctx, args.rebuild).await.map_err(|err| err.to_string())?;
    let mut wrong = 0;
    for stream in &all {
        let verdict = if stream.faults.is_empty() { "well" } else { "WRONG" };
        print(&format!("{} {} ops, {verdict}\n", stream.stream, stream.ops))?;
        for fault in &stream.faults {
            wrong += 1;
            print(&format!("  {fault}\n"))?;
        }
    }
    if wrong == 0 { Ok(()) } else { Err(format!("{wrong} faults in {} streams", all.len())) }
}
