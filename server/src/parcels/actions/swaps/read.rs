//! A swap as one of its two reads it, and the list of somebody's swaps.

use tarn_domain::parcels::{SwapSide, SwapState};
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use super::parcels::{ParcelLook, all_arrived, parcels_of};
use super::{opposite, side, state_at};
use crate::accounts::{self, actions::cursor};
use crate::entities::{swap_rows, swaps::Model};
use crate::parcels::store::swaps as store;
use crate::platform::errors::NOT_FOUND;
use crate::platform::messages::Place;
use crate::platform::{Ctx, Problem, Result};
use crate::rooms;

/// A swap and what is known about it at the moment of looking.
pub struct SwapLook {
    /// Its row.
    pub row: Model,
    /// Its state.
    pub state: SwapState,
    /// Which side looks.
    pub side: SwapSide,
    /// What is read of the other.
    pub with: String,
    /// What the other signs in with; told to who packs for them, once both have agreed.
    pub with_login: Option<String>,
    /// What it speaks of.
    pub rows: Vec<swap_rows::Model>,
    /// The proposer's parcel, and the other's.
    pub parcels: [Option<ParcelLook>; 2],
}

impl SwapLook {
    /// The parcel that the one who looks gives.
    pub fn own_parcel(&self) -> Option<&ParcelLook> {
        self.parcels[usize::from(self.side == SwapSide::Other)].as_ref()
    }

    /// Whether a row is of what the one who looks gives.
    pub fn is_own(&self, row: &swap_rows::Model) -> bool {
        row.asked == (self.side == SwapSide::Other)
    }
}

/// One swap.
///
/// # Errors
/// `not-found` for who is no party.
pub async fn read(ctx: &Ctx, account: AccountId, id: Uuid) -> Result<SwapLook> {
    let nothing = || Problem::new(&NOT_FOUND).detail("There is no swap with this id, or none of yours.");
    let row = store::swap(&ctx.db.conn, id).await?.ok_or_else(nothing)?;
    look(ctx, account, row).await
}

async fn look(ctx: &Ctx, account: AccountId, row: Model) -> Result<SwapLook> {
    let conn = &ctx.db.conn;
    let on = side(&row, account)?;
    let with = opposite(&row, on);
    let parcels = parcels_of(conn, &row).await?;
    let stored = state_at(&row, ctx.clock.now_ms());
    let state = if stored == SwapState::Agreed && all_arrived(&parcels) { SwapState::Done } else { stored };
    let mut look = SwapLook {
        state,
        side: on,
        with: rooms::store::people(conn, [with]).await?.remove(&with).unwrap_or_default(),
        with_login: None,
        rows: store::rows(conn, row.id).await?,
        parcels,
        row,
    };
    if state == SwapState::Agreed && look.own_parcel().is_some() {
        look.with_login = accounts::store::account(conn, with.0).await?.map(|account| account.login_name);
    }
    Ok(look)
}

/// A piece of a list of swaps.
pub struct Swaps {
    /// The newest first.
    pub swaps: Vec<SwapLook>,
    /// Where the list goes on.
    pub next: Option<String>,
}

/// Somebody's swaps after a place.
pub async fn swaps(ctx: &Ctx, account: AccountId, after: Option<Place>, most: usize) -> Result<Swaps> {
    let mut rows = store::of_account(&ctx.db.conn, account, after, most as u64 + 1).await?;
    let more = rows.len() > most;
    rows.truncate(most);
    let next = rows.last().filter(|_| more).map(|row| cursor((row.made_ms, row.id)));
    let mut swaps = Vec::with_capacity(rows.len());
    for row in rows {
        swaps.push(look(ctx, account, row).await?);
    }
    Ok(Swaps { swaps, next })
}
