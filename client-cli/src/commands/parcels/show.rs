//! `tarn parcel show`.

use clap::Args;
use serde_json::{Value, json};
use tarn_domain::parcels::ParcelState;
use tarn_domain::state::EntityState;
use tarn_domain::streams::{Entity, EntityKind, ParcelId};

use crate::failure::{Failure, Outcome};
use crate::find::is_part_of_id;
use crate::store::StreamRow;
use crate::tarn::Tarn;
use crate::wording::sex_word;

/// Shows one parcel as this room's records tell it.
#[derive(Debug, Args)]
#[command(before_help = "Example:\n  tarn parcel show 3f2a91c4")]
pub struct Show {
    /// Its id, or the beginning or end of it
    parcel: String,
}

/// How far a parcel has come, in one word.
pub fn stage(parcel: &ParcelState) -> &'static str {
    match parcel {
        p if p.arrived.is_some() => "arrived",
        p if p.sent.is_some() => "sent",
        p if p.handed.is_some() => "handed over",
        p if p.packed.is_some() => "packed",
        _ => "unknown",
    }
}

/// A parcel as a program reads it.
pub fn parcel_json(id: ParcelId, parcel: &ParcelState) -> Value {
    let mut value = serde_json::to_value(parcel).unwrap_or(Value::Null);
    value["id"] = json!(id);
    value["stage"] = json!(stage(parcel));
    value
}

/// The parcels of a room.
pub fn all(tarn: &Tarn, room: &StreamRow) -> Outcome<Vec<(ParcelId, ParcelState)>> {
    let states = tarn.store.states(room, &[EntityKind::Parcel])?;
    let parcel = |(entity, state): (Entity, EntityState)| match state {
        EntityState::Parcel(parcel) => Some((ParcelId(entity.id), *parcel)),
        _ => None,
    };
    Ok(states.into_iter().filter_map(parcel).collect())
}

/// The parcel that is meant; the only one that `waits` if none was typed.
pub fn find_parcel(
    tarn: &Tarn,
    room: &StreamRow,
    typed: Option<&str>,
    waits: impl Fn(&ParcelState) -> bool,
) -> Outcome<(ParcelId, ParcelState)> {
    let mut found: Vec<(ParcelId, ParcelState)> = all(tarn, room)?
        .into_iter()
        .filter(|(id, parcel)| match typed {
            Some(text) => is_part_of_id(&text.to_lowercase(), id.0),
            None => waits(parcel),
        })
        .collect();
    match (found.len(), typed) {
        (1, _) => found.pop().ok_or_else(|| Failure::refused("no parcel")),
        (0, Some(text)) => {
            Err(Failure::wrong_use(format!("there is no parcel {text:?} in this room"))
                .hint("tarn parcel list"))
        }
        (0, None) => Err(Failure::refused("there is no packed parcel in this room").hint("tarn parcel pack")),
        _ => Err(Failure::wrong_use("several parcels may be meant").hint("tarn parcel list")),
    }
}

impl Show {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let (id, parcel) = find_parcel(tarn, &room, Some(&self.parcel), |_| false)?;
        if tarn.out.is_json() {
            return tarn.out.data(&parcel_json(id, &parcel));
        }
        let zone = tarn.zone(&room);
        let names = tarn.names(&room, &[EntityKind::Stock])?;
        let mut rows =
            vec![vec!["parcel".to_owned(), id.to_string()], vec!["stage".into(), stage(&parcel).into()]];
        rows.extend(parcel.to.iter().map(|to| vec!["to".into(), to.clone()]));
        rows.extend(parcel.rows.iter().map(|r| {
            vec!["in it".into(), format!("{} {} of {}", r.n.get(), sex_word(r.sex), names.of(r.stock))]
        }));
        rows.extend(parcel.handed.iter().map(|(_, at)| vec!["handed over".into(), zone.show(*at)]));
        rows.extend(parcel.arrived.iter().map(|(_, at)| vec!["arrived".into(), zone.show(*at)]));
        rows.extend(parcel.stock.iter().map(|stock| vec!["here as".into(), names.of(*stock)]));
        tarn.out.table(&["", ""], rows)
    }
}
