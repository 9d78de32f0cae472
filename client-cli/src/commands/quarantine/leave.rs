//! `tarn quarantine leave`: which stocks may leave this room, and why the others may not.

use clap::Args;
use serde_json::{Value, json};
use tarn_domain::streams::{EntityKind, StockId};

use super::{is_synced, standing};
use crate::failure::Outcome;
use crate::tarn::Tarn;

/// Lists what may leave, and for what may not the reason and the day.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn quarantine leave")]
pub struct Leave {}

impl Leave {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let all = standing(tarn, &room)?;
        let names = tarn.names(&room, &[EntityKind::Stock])?;
        let mut told: Vec<(StockId, Option<tarn_domain::quarantine::Held>)> = Vec::new();
        for thing in tarn.store.named(&room, EntityKind::Stock)? {
            let stock = StockId(thing.entity.id);
            if tarn.stock_state(&room, stock)?.total() > 0 {
                told.push((stock, all.held(stock)));
            }
        }
        if tarn.out.is_json() {
            let one = |(stock, held): &(StockId, Option<tarn_domain::quarantine::Held>)| {
                let why = held.as_ref().map(ToString::to_string);
                let until = held.as_ref().and_then(tarn_domain::quarantine::Held::until);
                json!({ "stock": stock, "may_leave": held.is_none(), "why": why, "until": until })
            };
            return tarn.out.data(&Value::Array(told.iter().map(one).collect()));
        }
        let rows = told
            .into_iter()
            .map(|(stock, held)| {
                let why = held.map_or_else(|| "may leave".into(), |held| held.to_string());
                vec![names.of(stock), why]
            })
            .collect();
        tarn.out.table(&["stock", "may it leave"], rows)?;
        if !is_synced(tarn, &room)? {
            tarn.out.say("This rests on entries that are not yet synced.");
        }
        Ok(())
    }
}
