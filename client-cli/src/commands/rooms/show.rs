//! `tarn room show`: tanks by water system, with what swims in them.

use std::collections::BTreeMap;

use clap::Args;
use serde_json::{Value, json};
use tarn_domain::state::{RoomStates, view};
use tarn_domain::streams::{EntityKind, SystemId, TankId};

use crate::failure::Outcome;
use crate::tarn::{Names, Tarn};

/// Shows a room at a glance.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn room show")]
pub struct Show {}

impl Show {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let states = tarn.store.states(&room, &[EntityKind::System, EntityKind::Tank, EntityKind::Stock])?;
        let names = tarn.names(&room, &[EntityKind::System, EntityKind::Tank, EntityKind::Stock])?;
        let laid_out = view(states.iter().map(|(entity, state)| (*entity, state)));
        let waters = by_water(&laid_out);
        if tarn.out.is_json() {
            let waters: Vec<Value> =
                waters.iter().map(|(system, tanks)| json!({ "system": system, "tanks": tanks })).collect();
            let (ops, _) = tarn.store.op_counts(&room)?;
            return tarn.out.data(&json!({
                "id": room.id, "name": room.name, "zone": room.zone, "waters": waters, "ops": ops,
                "stocks": laid_out.stocks.values().filter(|s| s.total() > 0).count(),
                "findings": states.values().map(|s| s.findings().len()).sum::<usize>(),
            }));
        }
        let mut rows = Vec::new();
        for (system, tanks) in &waters {
            for tank in tanks {
                let water = system.map_or("its own water".into(), |s| names.of(s));
                rows.push(vec![water, names.of(*tank), inhabitants(&laid_out, &names, Some(*tank))]);
            }
        }
        let bag = inhabitants(&laid_out, &names, None);
        if !bag.is_empty() {
            rows.push(vec![String::new(), "in the bag".into(), bag]);
        }
        tarn.out.table(&["water", "tank", "stock"], rows)
    }
}

fn by_water(room: &RoomStates<'_>) -> BTreeMap<Option<SystemId>, Vec<TankId>> {
    let mut waters: BTreeMap<Option<SystemId>, Vec<TankId>> = BTreeMap::new();
    let mut tanks: Vec<_> = room.tanks.iter().collect();
    tanks.sort_by_key(|(_, state)| state.name.clone());
    for (id, tank) in tanks {
        waters.entry(tank.system()).or_default().push(*id);
    }
    waters
}

fn inhabitants(room: &RoomStates<'_>, names: &Names, place: Option<TankId>) -> String {
    let here = room.stocks.iter().filter(|(_, s)| s.total() > 0 && s.place() == Some(place));
    here.map(|(id, s)| format!("{} ({})", names.of(*id), s.numbers.spread())).collect::<Vec<_>>().join("; ")
}
