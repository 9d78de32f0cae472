//! `tarn room list`.

use clap::Args;
use serde_json::json;

use crate::failure::Outcome;
use crate::store::{GONE, OpState};
use crate::tarn::Tarn;

/// Lists the rooms on this device.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn room list")]
pub struct List {}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let in_use = tarn.room().ok().map(|room| room.id);
        let mut rows = Vec::new();
        let mut all = Vec::new();
        for room in tarn.rooms()? {
            let pending = tarn.store.open_count(&room, OpState::Pending)?;
            let refused = tarn.store.open_count(&room, OpState::Refused)?;
            let (ops, unknown) = tarn.store.op_counts(&room)?;
            all.push(json!({
                "id": room.id, "name": room.name, "zone": room.zone, "rights": room.rights,
                "in_use": in_use == Some(room.id), "on_server": room.on_server, "ops": ops, "pending": pending,
                "refused": refused, "unknown": unknown, "device": room.device, "epoch": room.epoch, "after": room.after,
            }));
            rows.push(vec![
                if in_use == Some(room.id) { "*".into() } else { String::new() },
                room.name.clone(),
                room.zone.clone(),
                ops.to_string(),
                match (room.on_server, room.rights.as_str()) {
                    (_, GONE) => "given up".into(),
                    (true, _) => pending.to_string(),
                    (false, _) => "all".into(),
                },
            ]);
        }
        if tarn.out.is_json() {
            return tarn.out.data(&json!(all));
        }
        tarn.out.table(&["", "room", "zone", "entries", "not synced"], rows)
    }
}
