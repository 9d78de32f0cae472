//! `tarn parcel pack`: reserves fish for another keeper.

use clap::Args;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::parcels::{PackedRow, ParcelPacked};
use tarn_domain::rooms::{StockState, Typed};
use tarn_domain::state::EntityState;
use tarn_domain::streams::{EntityKind, ParcelId, StockId};

use crate::clock;
use crate::commands::arguments::{OfBrood, When, optional, taken};
use crate::commands::quarantine;
use crate::failure::{Failure, Outcome};
use crate::store::StreamRow;
use crate::tarn::Tarn;

/// Packs fish for another keeper. Their lineage goes with them. Whether they may leave is checked when you sync.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn parcel pack --to jonas \"Blue=2 m 3 f\" \"Danios=6\"\n  \
    tarn parcel pack --agreed 0190a1b2-0000-7000-8000-00000000000e \"New danios=6\"",
    after_help = "Posting live animals or passing on some species may need papers or be forbidden where you live."
)]
pub struct Pack {
    /// For whom, by login name
    #[arg(long, value_name = "LOGIN")]
    to: Option<String>,
    /// Under this id: a parcel in quarantine that a steward agreed to
    #[arg(long, value_name = "PARCEL")]
    agreed: Option<ParcelId>,
    /// What goes into it, as STOCK=NUMBERS; may be repeated
    #[arg(required = true, value_name = "STOCK=NUMBERS")]
    fish: Vec<String>,
    #[command(flatten)]
    of: OfBrood,
    #[command(flatten)]
    when: When,
}

/// For whom a steward agreed to a parcel, by login name.
fn agreement(tarn: &Tarn, room: &StreamRow, parcel: Option<ParcelId>) -> Outcome<Option<String>> {
    let Some(parcel) = parcel else { return Ok(None) };
    match tarn.store.state(room, parcel.into())? {
        Some(EntityState::Parcel(state)) if state.packed.is_some() => {
            Err(Failure::refused("it is packed already").hint("tarn parcel hand"))
        }
        Some(EntityState::Parcel(state)) => Ok(state.agreed.map(|agreed| agreed.login)),
        _ => {
            Err(Failure::refused("no steward's word on this parcel is in the records here").hint("tarn sync"))
        }
    }
}

impl Pack {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let room = tarn.room()?;
        let rows = typed_rows(tarn, &room, &self.fish, &self.of)?;
        if self.agreed.is_none() {
            warn_of_held(tarn, &room, &rows)?;
        }
        let parcel = self.agreed.unwrap_or_else(|| ParcelId(clock::new_id()));
        let agreed = agreement(tarn, &room, self.agreed)?;
        let to = optional(self.to)?.map(|login| login.to_lowercase()).or(agreed);
        let at = tarn.at(&room, self.when.at.as_deref())?;
        let recorded = tarn.record(&room, at, Body::ParcelPacked(ParcelPacked { parcel, to, rows }))?;
        if !tarn.out.is_json() {
            tarn.out.line(&parcel.to_string())?;
        }
        tarn.tell(
            recorded,
            "Packed. When the bag leaves: tarn parcel hand, then tarn sync.",
            &[("parcel", json!(parcel))],
        )
    }
}

/// The rows of fish typed as STOCK=NUMBERS, out of one room.
pub fn typed_rows(tarn: &Tarn, room: &StreamRow, fish: &[String], of: &OfBrood) -> Outcome<Vec<PackedRow>> {
    let mut rows = Vec::new();
    for text in fish {
        let (stock, numbers) = stock_and_numbers(text)?;
        let (id, state) = tarn.stock(room, stock)?;
        rows.extend(rows_of(tarn, room, (id, &state), &numbers, of)?);
    }
    Ok(rows)
}

/// STOCK=NUMBERS in its two parts.
pub fn stock_and_numbers(text: &str) -> Outcome<(&str, Typed)> {
    let (stock, numbers) = text
        .rsplit_once('=')
        .ok_or_else(|| Failure::wrong_use(format!("{text:?} is not of the form STOCK=NUMBERS")))?;
    Ok((stock, numbers.parse().map_err(Failure::wrong_use)?))
}

/// The rows that numbers take from a stock.
pub fn rows_of(
    tarn: &Tarn,
    room: &StreamRow,
    (stock, state): (StockId, &StockState),
    numbers: &Typed,
    of: &OfBrood,
) -> Outcome<Vec<PackedRow>> {
    let chosen = taken(tarn, room, state, numbers, of)?;
    Ok(chosen.into_iter().map(|r| PackedRow { stock, node: r.node, sex: r.sex, n: r.n }).collect())
}

/// Says so if some of it is in quarantine by the records here.
pub fn warn_of_held(tarn: &Tarn, room: &StreamRow, rows: &[PackedRow]) -> Outcome {
    let held = quarantine::held(tarn, room)?;
    let names = tarn.names(room, &[EntityKind::Stock])?;
    let mut stocks: Vec<StockId> = rows.iter().map(|row| row.stock).filter(|id| held.contains(id)).collect();
    stocks.dedup();
    for stock in stocks {
        tarn.out.say(&format!(
            "Warning: {} is in quarantine by the records here; the server will refuse it.",
            names.of(stock)
        ));
    }
    Ok(())
}
