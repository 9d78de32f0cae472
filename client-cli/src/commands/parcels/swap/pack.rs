//! `tarn swap pack`: the fish of an agreed swap go into the bag, under the parcel that the server allotted.

use clap::Args;
use serde_json::{Value, json};
use tarn_domain::catalogue::Body;
use tarn_domain::parcels::{PackedRow, ParcelPacked};
use tarn_domain::streams::{ParcelId, StockId, StreamId};

use super::list::sides;
use super::swap_id;
use crate::commands::arguments::{OfBrood, When};
use crate::commands::parcels::online::{text, typed};
use crate::commands::parcels::pack::{rows_of, typed_rows, warn_of_held};
use crate::failure::{Failure, Outcome};
use crate::store::StreamRow;
use crate::sync::session;
use crate::tarn::Tarn;

/// Packs your side of an agreed swap, for the other keeper. Whether the fish may leave is checked when you sync.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn swap pack 3f2a91c4\n  tarn swap pack 3f2a91c4 \"Blue=2 m 3 f\"",
    after_help = "Posting live animals or passing on some species may need papers or be forbidden where you live."
)]
pub struct Pack {
    /// Which swap: its id, or the beginning or end of it
    swap: String,
    /// What goes into it, as STOCK=NUMBERS, if it is not what the swap says
    #[arg(value_name = "STOCK=NUMBERS")]
    fish: Vec<String>,
    #[command(flatten)]
    of: OfBrood,
    #[command(flatten)]
    when: When,
}

impl Pack {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let id = swap_id(&mut remote, &self.swap)?;
        let swap = remote.get(&format!("swaps/{id}"))?;
        if swap["state"] != "agreed" {
            return Err(Failure::refused(format!("this swap is {}", text(&swap, "state")))
                .hint("Only what both have agreed is packed."));
        }
        let parcel = text(&swap["own_parcel"], "parcel");
        let Ok(parcel) = parcel.parse::<ParcelId>() else {
            return Err(Failure::refused("you give nothing in this swap"));
        };
        if swap["own_parcel"]["state"] != "not_packed" {
            return Err(Failure::refused("your parcel of this swap is packed already").hint("tarn swap show"));
        }
        let room = self.room(tarn, &swap)?;
        let rows = if self.fish.is_empty() {
            self.agreed(tarn, &room, &swap)?
        } else {
            typed_rows(tarn, &room, &self.fish, &self.of)?
        };
        warn_of_held(tarn, &room, &rows)?;
        let to = Some(text(&swap, "pack_for"));
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

    /// The room that the fish are in; all of a parcel is out of one.
    fn room(&self, tarn: &mut Tarn, swap: &Value) -> Outcome<StreamRow> {
        let mut rooms: Vec<String> = own_rows(swap).map(|row| text(&row["offer"], "room")).collect();
        rooms.dedup();
        let named = match &rooms[..] {
            _ if !self.fish.is_empty() => return tarn.room(),
            [] => {
                return Err(Failure::wrong_use("the swap names none of your stocks")
                    .hint("Say what goes into the bag, as STOCK=NUMBERS."));
            }
            [one] => one.parse::<StreamId>().ok(),
            _ => None,
        };
        let Some(id) = named else {
            return Err(Failure::wrong_use("the fish are in several rooms, and a parcel is out of one")
                .hint("Say what goes into the bag, as STOCK=NUMBERS, with --room."));
        };
        tarn.use_room(id)
    }

    /// What the swap says.
    fn agreed(&self, tarn: &Tarn, room: &StreamRow, swap: &Value) -> Outcome<Vec<PackedRow>> {
        let mut rows = Vec::new();
        for row in own_rows(swap) {
            let Ok(stock) = text(&row["offer"], "stock").parse::<StockId>() else { continue };
            let state = tarn.stock_state(room, stock)?;
            rows.extend(rows_of(tarn, room, (stock, &state), &typed(&row["numbers"]), &self.of)?);
        }
        Ok(rows)
    }
}

fn own_rows(swap: &Value) -> impl Iterator<Item = &Value> {
    let (own, _) = sides(swap);
    swap[own].as_array().into_iter().flatten().filter(|row| row["offer"].is_object())
}
