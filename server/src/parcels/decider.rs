//! Whether fish may be packed and may leave: asked twice, when `packed` and when `handed` is pushed.

use std::collections::BTreeSet;

use sea_orm::DatabaseTransaction;
use tarn_domain::catalogue::Body;
use tarn_domain::parcels::{PackedRow, StockStanding, may_go, may_pack};
use tarn_domain::quarantine::Held;
use tarn_domain::rooms::Came;
use tarn_domain::state::{Memory, Quarantine};
use tarn_domain::streams::{ParcelId, StockId};

use super::refusals::told;
use super::store;
use crate::platform::Result;
use crate::platform::errors::Problem;
use crate::rooms;
use crate::streams::Judging;

/// A bag to be packed or handed over.
struct Bag<'a> {
    parcel: ParcelId,
    to: Option<&'a str>,
    rows: &'a [PackedRow],
}

/// How the stocks of a bag stand: what a steward agreed to may go, and what is still in its own bag may go back to
/// whoever gave it.
async fn standing(
    tx: &DatabaseTransaction,
    judging: &Judging<'_>,
    bag: Bag<'_>,
) -> Result<Vec<StockStanding>> {
    let stocks: BTreeSet<StockId> = bag.rows.iter().map(|row| row.stock).collect();
    let quarantine = Quarantine::of(judging.memory, judging.now);
    let agreed = judging.memory.parcel(bag.parcel).and_then(|parcel| parcel.agreed.as_ref());
    let agreed = agreed.filter(|agreed| bag.to == Some(agreed.login.as_str()));
    let mut all = Vec::new();
    for stock in stocks {
        let mut held = quarantine.held(stock);
        if agreed.is_some_and(|agreed| agreed.stocks.contains(&stock)) {
            held = None;
        }
        if held == Some(Held::InTheBag) && goes_back(tx, judging.memory, stock, bag.to).await? {
            held = None;
        }
        all.push(StockStanding { stock, held });
    }
    Ok(all)
}

/// Whether a stock that is still in its bag would go back to the keeper who sent it.
async fn goes_back(
    tx: &DatabaseTransaction,
    memory: &Memory,
    bag: StockId,
    to: Option<&str>,
) -> Result<bool> {
    let Some(login) = to else { return Ok(false) };
    let mut seen = BTreeSet::new();
    let mut at = Some(bag);
    let mut came = None;
    while let Some(state) = at.take().filter(|id| seen.insert(*id)).and_then(|id| memory.stock(id)) {
        match &state.came {
            Some(Came::Split { of }) => at = Some(*of),
            Some(Came::Parcel { parcel }) => came = Some(*parcel),
            _ => {}
        }
    }
    let (Some(parcel), Some(account)) = (came, rooms::store::account_of_login(tx, login).await?) else {
        return Ok(false);
    };
    for side in store::sides(tx, parcel).await? {
        let account = tarn_domain::streams::AccountId(account.id);
        if side.state.sent.is_some() && rooms::store::is_keeper(tx, side.stream, account).await? {
            return Ok(true);
        }
    }
    Ok(false)
}

/// `parcel.packed`.
pub async fn packed(tx: &DatabaseTransaction, judging: &Judging<'_>) -> Result<Result<(), Problem>> {
    let Body::ParcelPacked(body) = &judging.op.body else { return Ok(Ok(())) };
    if judging.brought {
        return Ok(Ok(()));
    }
    let bag = Bag { parcel: body.parcel, to: body.to.as_deref(), rows: &body.rows };
    let stocks = standing(tx, judging, bag).await?;
    Ok(may_pack(&body.rows, &stocks).map_err(|no| told(&no)))
}

/// `parcel.handed`.
pub async fn handed(tx: &DatabaseTransaction, judging: &Judging<'_>) -> Result<Result<(), Problem>> {
    let Body::ParcelHanded(body) = &judging.op.body else { return Ok(Ok(())) };
    if judging.brought {
        return Ok(Ok(()));
    }
    let state = judging.memory.parcel(body.parcel).cloned().unwrap_or_default();
    let bag = Bag { parcel: body.parcel, to: state.to.as_deref(), rows: &state.rows };
    let stocks = standing(tx, judging, bag).await?;
    Ok(may_go(&state, &stocks).map_err(|no| told(&no)))
}
