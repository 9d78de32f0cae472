//! `tarn-server check`: reads every stream from its first op and the whole audit, and compares; safe while the server
//! runs.

use super::{Done, offline, print};
use crate::app;
use crate::platform::config::Settings;
use crate::platform::{Ctx, audit};
use crate::streams::actions::check;

/// Arguments of `check`.
#[derive(clap::Args)]
pub struct Args {
    /// Make all projections anew first
    #[arg(long)]
    rebuild: bool,
    /// A seal that somebody kept, as in the mail: its number, then its hash
    #[arg(long, value_name = "SEAL")]
    seal: Option<String>,
}

/// Runs it: one line per stream and one for the audit, and a failure if anything is wrong.
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
    let of_audit = of_audit(&ctx, args.seal.as_deref()).await?;
    match (wrong, of_audit) {
        (0, 0) => Ok(()),
        (wrong, 0) => Err(format!("{wrong} faults in {} streams", all.len())),
        (0, of_audit) => Err(format!("{of_audit} faults in the audit")),
        _ => Err(format!("{wrong} faults in {} streams, {of_audit} in the audit", all.len())),
    }
}

/// Checks the audit, and the seal that somebody kept against it; how much is wrong.
async fn of_audit(ctx: &Ctx, kept: Option<&str>) -> Result<usize, String> {
    let mut found = audit::verify(ctx).await.map_err(|err| err.to_string())?;
    if let Some(kept) = kept {
        let wrong = || "a seal is its number and its hash, as “17: 3f2a 9b1c …”".to_owned();
        let (number, hash) = audit::noted(kept).ok_or_else(wrong)?;
        match audit::numbered(&ctx.db.conn, number).await.map_err(|err| err.to_string())? {
            Some(seal) if seal.hash == hash => {}
            Some(_) => found.faults.push(format!(
                "seal {number} has another hash than the one that was kept: something before it was changed"
            )),
            None => found.faults.push(format!("seal {number} was kept, and is not there any more")),
        }
    }
    let verdict = if found.faults.is_empty() { "well" } else { "WRONG" };
    let seals = match &found.newest {
        Some(seal) => format!("newest seal {}: {}", seal.number, audit::in_groups(seal)),
        None => "no seal yet".to_owned(),
    };
    let (facts, unsealed) = (found.facts, found.unsealed);
    print(&format!("audit {facts} facts, {unsealed} not sealed yet, {verdict}; {seals}\n"))?;
    for fault in &found.faults {
        print(&format!("  {fault}\n"))?;
    }
    Ok(found.faults.len())
}
