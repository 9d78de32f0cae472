//! `tarn tank list`.

use clap::Args;
use serde_json::json;
use tarn_domain::state::view;
use tarn_domain::streams::EntityKind;

use crate::failure::Outcome;
use crate::tarn::Tarn;
use crate::wording::litres;

/// Lists the tanks with what swims in them.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn tank list")]
pub struct List {}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let kinds = [EntityKind::System, EntityKind::Tank, EntityKind::Stock];
        let states = tarn.store.states(&room, &kinds)?;
        let names = tarn.names(&room, &kinds)?;
        let laid_out = view(states.iter().map(|(entity, state)| (*entity, state)));
        let mut tanks: Vec<_> = laid_out.tanks.iter().collect();
        tanks.sort_by_key(|(id, tank)| (tank.name.clone(), **id));
        let (mut rows, mut all) = (Vec::new(), Vec::new());
        for (id, tank) in tanks {
            let here: Vec<_> = laid_out
                .stocks
                .iter()
                .filter(|(_, s)| s.total() > 0 && s.place() == Some(Some(*id)))
                .map(|(stock, _)| *stock)
                .collect();
            all.push(json!({
                "id": id, "name": tank.name, "stand": tank.stand, "shelf": tank.shelf, "place": tank.place,
                "volume_ml": tank.volume_ml, "displacement_ml": tank.displacement_ml, "system": tank.system(), "stocks": here,
            }));
            let place = [&tank.stand, &tank.shelf, &tank.place].into_iter().flatten().cloned();
            rows.push(vec![
                tank.name.clone().unwrap_or_default(),
                place.collect::<Vec<_>>().join(" / "),
                tank.volume_ml.map(litres).unwrap_or_default(),
                tank.system().map(|s| names.of(s)).unwrap_or_default(),
                here.iter().map(|s| names.of(*s)).collect::<Vec<_>>().join(", "),
            ]);
        }
        if tarn.out.is_json() {
            return tarn.out.data(&json!(all));
        }
        tarn.out.table(&["tank", "stand / shelf / place", "holds", "system", "stock"], rows)
    }
}
