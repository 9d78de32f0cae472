//! `tarn system list`.

use clap::Args;
use serde_json::json;
use tarn_domain::state::view;
use tarn_domain::streams::EntityKind;

use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Lists the water systems and the tanks on each.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn system list")]
pub struct List {}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let states = tarn.store.states(&room, &[EntityKind::System, EntityKind::Tank])?;
        let names = tarn.names(&room, &[EntityKind::Tank])?;
        let laid_out = view(states.iter().map(|(entity, state)| (*entity, state)));
        let (mut rows, mut all) = (Vec::new(), Vec::new());
        for (id, system) in &laid_out.systems {
            let tanks: Vec<_> =
                laid_out.tanks.iter().filter(|(_, t)| t.system() == Some(*id)).map(|(id, _)| *id).collect();
            all.push(json!({
                "id": id, "name": system.name, "gross_ml": system.gross_ml, "net_ml": system.net_ml,
                "sump_ml": system.sump_ml,
                "pipes_ml": system.pipes_ml, "displacement_ml": system.displacement_ml, "tanks": tanks,
            }));
            rows.push(vec![
                system.name.clone().unwrap_or_default(),
                system.gross_ml.or(system.net_ml).map(crate::wording::litres).unwrap_or_default(),
                tanks.iter().map(|t| names.of(*t)).collect::<Vec<_>>().join(", "),
            ]);
        }
        if tarn.out.is_json() {
            return tarn.out.data(&json!(all));
        }
        tarn.out.table(&["system", "water", "tanks"], rows)
    }
}
