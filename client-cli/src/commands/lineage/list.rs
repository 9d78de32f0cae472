//! `tarn brood list`.

use clap::Args;
use serde_json::json;
use tarn_domain::state::view;
use tarn_domain::streams::EntityKind;

use super::show::{brood_json, parents_words};
use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Lists the broods of the room.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn brood list")]
pub struct List {}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let states = tarn.store.states(&room, &[EntityKind::Brood])?;
        let names = tarn.names(&room, &[EntityKind::Stock, EntityKind::Brood])?;
        let zone = tarn.zone(&room);
        let laid_out = view(states.iter().map(|(entity, state)| (*entity, state)));
        if tarn.out.is_json() {
            let all: Vec<_> = laid_out.broods.iter().map(|(id, b)| brood_json(*id, b)).collect();
            return tarn.out.data(&json!(all));
        }
        let rows = laid_out
            .broods
            .values()
            .map(|b| {
                vec![
                    b.code.clone().unwrap_or_default(),
                    b.name.species.clone().unwrap_or_default(),
                    b.found.map(|at| zone.show_day(at)).unwrap_or_default(),
                    parents_words(b.sires.as_ref(), &names),
                    parents_words(b.dams.as_ref(), &names),
                ]
            })
            .collect();
        tarn.out.table(&["brood", "species", "found", "fathers", "mothers"], rows)
    }
}
