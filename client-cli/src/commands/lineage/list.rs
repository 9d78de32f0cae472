//! `tarn brood list`.

use clap::Args;
use serde_json::json;
use tarn_domain::state::view;
use tarn_domain::streams::EntityKind;

use super::known::{known, side};
use super::show::{brood_json, parents_words};
use crate::failure::Outcome;
use crate::store::StreamRow;
use crate::tarn::Tarn;

/// Lists the broods of the room.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn brood list\n  tarn brood list --all")]
pub struct List {
    /// Also those whose home is elsewhere: what came, and its ancestors
    #[arg(long)]
    all: bool,
}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        if self.all {
            return everything(tarn, &room);
        }
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

/// Every brood that the room knows of.
fn everything(tarn: &Tarn, room: &StreamRow) -> Outcome {
    let all = known(tarn, room)?;
    let broods = all.iter().filter_map(|(id, copy)| Some((id, copy, copy.brood()?)));
    if tarn.out.is_json() {
        let told: Vec<_> = broods.map(|(_, copy, _)| json!(copy)).collect();
        return tarn.out.data(&json!(told));
    }
    let own = tarn.store.named(room, EntityKind::Brood)?;
    let rows = broods
        .map(|(id, _, brood)| {
            let home = if own.iter().any(|named| named.entity.id == id.0) { "here" } else { "elsewhere" };
            vec![
                brood.code.clone().unwrap_or_default(),
                brood.species.clone().unwrap_or_default(),
                if brood.cross { "cross".into() } else { String::new() },
                brood.month.clone().unwrap_or_default(),
                home.into(),
                side(&all, brood.sires.as_ref()),
                side(&all, brood.dams.as_ref()),
            ]
        })
        .collect();
    tarn.out.table(&["brood", "species", "", "of", "home", "fathers", "mothers"], rows)
}
