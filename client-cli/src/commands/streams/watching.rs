//! What `tarn sync --watch` says after each sync that did something.

use serde_json::{Value, json};
use tarn_domain::streams::EntityKind;

use super::sync::later;
use crate::failure::Outcome;
use crate::store::OpState;
use crate::sync::{Report, standing, watch::Came};
use crate::tarn::Tarn;
use crate::wording::sentence;

/// Tells what came and went, in words; programs get an object a sync.
///
/// # Errors
/// The file, or that it can't be written.
pub(super) fn tell(tarn: &mut Tarn, report: &Report, came: &[Came]) -> Outcome {
    let mut told = Vec::new();
    for Came { room, lines, more } in came {
        let names = tarn.names(room, &EntityKind::ALL)?;
        for line in lines {
            let says = match &line.op {
                Some(op) => sentence(&op.body, &names),
                None => format!("{} (needs a newer tarn)", line.kind),
            };
            told.push(json!({ "room": room.name, "op": line.id, "kind": line.kind, "says": says }));
            tarn.out.say(&format!("{}: {says}", room.name));
        }
        if *more > 0 {
            tarn.out.say(&format!("{}: and {more} more", room.name));
        }
    }
    if report.pushed > 0 {
        tarn.out.say(&format!("Pushed {}.", report.pushed));
    }
    if let Some(says) = later(tarn, report) {
        tarn.out.say(&says);
    }
    report.failures.iter().for_each(|failure| tarn.out.say(&failure.says));
    if report.refused > 0 {
        let all = standing(tarn, OpState::Refused)?;
        tarn.out.say(&format!("{all} entries are refused; see tarn sync refused."));
    }
    if tarn.out.is_json() && (report.pushed, report.pulled, report.refused) != (0, 0, 0) {
        let more: u64 = came.iter().map(|came| came.more).sum();
        return tarn.out.data(&json!({
            "pushed": report.pushed, "pulled": report.pulled, "newly_refused": report.refused,
            "came": Value::Array(told), "more": more,
        }));
    }
    Ok(())
}
