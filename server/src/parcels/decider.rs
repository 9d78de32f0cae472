//! Whether fish may be packed and may leave: asked twice, when `packed` and when `handed` is pushed.

use std::collections::BTreeSet;

use tarn_domain::catalogue::Body;
use tarn_domain::parcels::{PackedRow, ParcelState, StockStanding, may_go, may_pack};
use tarn_domain::state::{EntityState, Quarantine};
use tarn_domain::streams::StockId;

use super::refusals::told;
use crate::platform::errors::Problem;
use crate::streams::Judging;

fn standing(judging: &Judging<'_>, rows: &[PackedRow]) -> Vec<StockStanding> {
    let stocks: BTreeSet<StockId> = rows.iter().map(|row| row.stock).collect();
    let quarantine = Quarantine::of(judging.memory, judging.now);
    stocks.into_iter().map(|stock| StockStanding { stock, held: quarantine.held(stock) }).collect()
}

/// `parcel.packed`.
pub fn packed(judging: &Judging<'_>) -> Result<(), Problem> {
    let Body::ParcelPacked(body) = &judging.op.body else { return Ok(()) };
    may_pack(&body.rows, &standing(judging, &body.rows)).map_err(|no| told(&no))
}

/// `parcel.handed`.
pub fn handed(judging: &Judging<'_>) -> Result<(), Problem> {
    let Body::ParcelHanded(body) = &judging.op.body else { return Ok(()) };
    let parcel = match judging.memory.state(body.parcel.into()).map(AsRef::as_ref) {
        Some(EntityState::Parcel(parcel)) => (**parcel).clone(),
        _ => ParcelState::default(),
    };
    may_go(&parcel, &standing(judging, &parcel.rows)).map_err(|no| told(&no))
}
