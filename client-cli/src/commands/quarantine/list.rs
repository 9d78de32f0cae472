//! `tarn quarantine list`: the units of this room, computed from the records on this device.

use clap::Args;
use serde_json::{Value, json};
use tarn_domain::quarantine::{SharedWater, Unit};
use tarn_domain::streams::EntityKind;

use super::breach::units_now;
use crate::failure::Outcome;
use crate::find::short;
use crate::store::OpState;
use crate::tarn::Tarn;

/// Lists the units in quarantine: all stocks that share a water. Time alone never clears one; a steward does.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn quarantine list")]
pub struct List {}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let units = units_now(tarn, &room)?;
        let synced = tarn.store.open_count(&room, OpState::Pending)? == 0;
        if tarn.out.is_json() {
            let all: Vec<Value> = units.iter().map(|unit| unit_json(unit, synced)).collect();
            return tarn.out.data(&json!(all));
        }
        if units.is_empty() {
            tarn.out.say("Nothing is in quarantine.");
            return Ok(());
        }
        let zone = tarn.zone(&room);
        let names = tarn.names(&room, &[EntityKind::Stock])?;
        let rows = units
            .iter()
            .map(|unit| {
                let members: Vec<String> = unit.members.iter().map(|m| names.of(m.stock)).collect();
                let days = unit.start.map_or(format!("{} to do", unit.days.0), |_| {
                    format!("{} of {}", unit.done.0.min(unit.days.0), unit.days.0)
                });
                let due = unit.due.map(|at| zone.show(at)).unwrap_or_else(|| "when in water".into());
                vec![members.join(", "), unit.state.word().into(), days, due, short(unit.id.0)]
            })
            .collect();
        tarn.out.table(&["fish", "state", "days", "due", "unit"], rows)?;
        if !synced {
            tarn.out.say("This rests on entries that are not yet synced.");
        }
        Ok(())
    }
}

fn unit_json(unit: &Unit, synced: bool) -> Value {
    let members: Vec<Value> = unit
        .members
        .iter()
        .map(|m| json!({ "stock": m.stock, "cause": m.cause.word(), "since": m.since, "start": m.start }))
        .collect();
    let shared = if unit.shared_water == SharedWater::Restart { "restart" } else { "wait_for_last" };
    json!({
        "unit": unit.id, "state": unit.state.word(), "start": unit.start, "due": unit.due, "days": unit.days,
        "days_done": unit.done, "shared_water": shared, "members": members, "synced": synced,
    })
}
