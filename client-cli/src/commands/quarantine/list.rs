//! `tarn quarantine list`: the units of this room, computed from the records on this device.

use clap::Args;
use serde_json::{Value, json};
use tarn_domain::quarantine::{SharedWater, Unit};
use tarn_domain::state::Blocker;
use tarn_domain::streams::EntityKind;

use super::{is_synced, standing};
use crate::failure::Outcome;
use crate::find::short;
use crate::tarn::Tarn;

/// Lists the units in quarantine: all stocks that share a water. Time alone never clears one; a steward does.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn quarantine list")]
pub struct List {}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let all = standing(tarn, &room)?;
        let synced = is_synced(tarn, &room)?;
        if tarn.out.is_json() {
            let units = all.units().iter().zip(&all.blockers);
            let told: Vec<Value> = units.map(|(unit, blockers)| unit_json(unit, blockers, synced)).collect();
            return tarn.out.data(&json!(told));
        }
        if all.units().is_empty() {
            tarn.out.say("Nothing is in quarantine.");
            return Ok(());
        }
        let zone = tarn.zone(&room);
        let names = tarn.names(&room, &[EntityKind::Stock])?;
        let rows = all
            .units()
            .iter()
            .zip(&all.blockers)
            .map(|(unit, blockers)| {
                let members: Vec<String> = unit.members.iter().map(|m| names.of(m.stock)).collect();
                let days = unit.due.map_or(format!("{} to do", unit.days.0), |_| {
                    format!("{} of {}", unit.done.0.min(unit.days.0), unit.days.0)
                });
                let due = unit.due.map(|at| zone.show(at)).unwrap_or_else(|| "no day yet".into());
                let way =
                    if blockers.is_empty() { String::new() } else { format!("{} more", blockers.len()) };
                vec![members.join(", "), unit.state.word().into(), days, due, way, short(unit.id.0)]
            })
            .collect();
        tarn.out.table(&["fish", "state", "days", "not before", "in the way", "unit"], rows)?;
        if !synced {
            tarn.out.say("This rests on entries that are not yet synced.");
        }
        Ok(())
    }
}

/// A unit as JSON.
pub fn unit_json(unit: &Unit, blockers: &[Blocker], synced: bool) -> Value {
    let members: Vec<Value> = unit
        .members
        .iter()
        .map(|m| json!({ "stock": m.stock, "cause": m.cause.word(), "since": m.since, "start": m.start }))
        .collect();
    let shared = if unit.shared_water == SharedWater::Restart { "restart" } else { "wait_for_last" };
    let runs: Vec<Value> =
        unit.runs.iter().map(|run| json!({ "start": run.start, "why": run.why.word() })).collect();
    let blockers: Vec<Value> = blockers
        .iter()
        .map(|b| json!({ "key": b.key(), "blocker": b.kind(), "entry": b.entry(), "stock": b.stock() }))
        .collect();
    json!({
        "unit": unit.id, "state": unit.state.word(), "start": unit.start, "due": unit.due, "days": unit.days,
        "days_done": unit.done, "shared_water": shared, "members": members, "tanks": unit.tanks, "runs": runs,
        "blockers": blockers, "synced": synced,
    })
}
