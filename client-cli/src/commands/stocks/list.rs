//! `tarn stock list`.

use clap::Args;
use serde_json::json;
use tarn_domain::state::{EntityState, view};
use tarn_domain::streams::EntityKind;

use super::show::stock_json;
use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Lists the stock.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn stock list\n  tarn stock list --tank A1 --json")]
pub struct List {
    /// Those of which none are left, too
    #[arg(long)]
    all: bool,
    /// Only in this tank
    #[arg(long)]
    tank: Option<String>,
}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let tank = self.tank.as_deref().map(|typed| tarn.tank(&room, typed)).transpose()?;
        let states = tarn.store.states(&room, &[EntityKind::Stock])?;
        let names = tarn.names(&room, &[EntityKind::Tank, EntityKind::Stock])?;
        let laid_out = view(states.iter().map(|(entity, state): (_, &EntityState)| (*entity, state)));
        let mut stocks: Vec<_> = laid_out
            .stocks
            .iter()
            .filter(|(_, s)| self.all || s.total() > 0)
            .filter(|(_, s)| tank.is_none() || s.place() == Some(tank))
            .collect();
        stocks.sort_by_key(|(id, s)| (s.name.clone(), **id));
        if tarn.out.is_json() {
            let all: Vec<_> = stocks.iter().map(|(id, s)| stock_json(**id, s)).collect();
            return tarn.out.data(&json!(all));
        }
        let rows = stocks
            .iter()
            .map(|(id, s)| {
                let place = s.place().map(|place| names.place(place)).unwrap_or_default();
                let about = if s.about.is_empty() { "" } else { "about " };
                let what = [&s.species, &s.form].into_iter().flatten().cloned().collect::<Vec<_>>();
                vec![names.of(**id), format!("{about}{}", s.numbers.spread()), place, what.join(", ")]
            })
            .collect();
        tarn.out.table(&["stock", "numbers", "tank", "species, form"], rows)
    }
}
