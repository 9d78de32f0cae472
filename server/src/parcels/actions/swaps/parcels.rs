//! How the parcels of a swap stand, joined from what the rooms of both sides tell. What a third room says of a parcel
//! counts for nothing.

use sea_orm::ConnectionTrait;
use tarn_domain::rooms::Row;
use tarn_domain::streams::{AccountId, At, ParcelId, StockId, StreamId};

use crate::entities::swaps::Model;
use crate::parcels::store::{self, Side};
use crate::platform::Result;
use crate::{accounts, rooms};

/// How far a parcel has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Nothing is known of it.
    NotPacked,
    /// In the bag.
    Packed,
    /// It left, then.
    OnTheWay(At),
    /// It came, then.
    Arrived(At),
}

/// A parcel of a swap.
#[derive(Debug, Clone)]
pub struct ParcelLook {
    /// Which.
    pub id: ParcelId,
    /// Who gives it.
    pub giver: AccountId,
    /// How far it has come.
    pub stage: Stage,
    /// How many were sent, or packed.
    pub sent: i64,
    /// How many came alive.
    pub alive: i64,
    /// How many came dead.
    pub dead: i64,
    /// The stock it came out of, in the giver's room.
    pub from: Option<(StreamId, StockId)>,
    /// The stock it became, in the receiver's room.
    pub became: Option<(StreamId, StockId)>,
}

/// The parcel of the proposer and that of the other, as far as they were allotted.
pub async fn parcels_of(conn: &impl ConnectionTrait, row: &Model) -> Result<[Option<ParcelLook>; 2]> {
    let (proposer, other) = (AccountId(row.proposer), AccountId(row.other));
    let give = match row.give_parcel {
        Some(id) => Some(parcel(conn, ParcelId(id), proposer, other).await?),
        None => None,
    };
    let ask = match row.ask_parcel {
        Some(id) => Some(parcel(conn, ParcelId(id), other, proposer).await?),
        None => None,
    };
    Ok([give, ask])
}

async fn parcel(
    conn: &impl ConnectionTrait,
    id: ParcelId,
    giver: AccountId,
    taker: AccountId,
) -> Result<ParcelLook> {
    let mut look = ParcelLook {
        id,
        giver,
        stage: Stage::NotPacked,
        sent: 0,
        alive: 0,
        dead: 0,
        from: None,
        became: None,
    };
    let sides = store::sides(conn, id).await?;
    let (givers, takers) = (with_wards(conn, giver).await?, with_wards(conn, taker).await?);
    for Side { stream, state } in &sides {
        let is_theirs = state.packed.is_some() && is_kept_by(conn, *stream, &givers).await?;
        let for_taker = state.sent.is_none() || state.to_account.is_some_and(|to| takers.contains(&to));
        if is_theirs && for_taker {
            look.from = state.rows.first().map(|row| (*stream, row.stock));
            look.sent = state.rows.iter().map(|row| row.n.get()).sum();
            look.stage = match (state.sent, state.handed) {
                (Some(_), Some((_, at))) => Stage::OnTheWay(at),
                _ => Stage::Packed,
            };
        }
    }
    if !matches!(look.stage, Stage::OnTheWay(_)) {
        return Ok(look);
    }
    for Side { stream, state } in &sides {
        let Some((_, at)) = state.arrived else { continue };
        if is_kept_by(conn, *stream, &takers).await? {
            let sum = |rows: &[Row]| rows.iter().map(|row| row.n.get()).sum();
            (look.alive, look.dead) = (sum(&state.alive), sum(&state.dead));
            look.became = state.stock.map(|stock| (*stream, stock));
            look.stage = Stage::Arrived(at);
        }
    }
    Ok(look)
}

/// An account, and those under age for whom it swaps.
async fn with_wards(conn: &impl ConnectionTrait, account: AccountId) -> Result<Vec<AccountId>> {
    let wards = accounts::store::young_of(conn, account.0).await?;
    Ok(std::iter::once(account).chain(wards.into_iter().map(|ward| AccountId(ward.account))).collect())
}

async fn is_kept_by(conn: &impl ConnectionTrait, room: StreamId, accounts: &[AccountId]) -> Result<bool> {
    for account in accounts {
        if rooms::store::is_keeper(conn, room, *account).await? {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Whether a parcel of the swap has left.
pub(in crate::parcels) async fn has_left(conn: &impl ConnectionTrait, row: &Model) -> Result<bool> {
    let all = parcels_of(conn, row).await?;
    Ok(all.iter().flatten().any(|look| matches!(look.stage, Stage::OnTheWay(_) | Stage::Arrived(_))))
}

/// Whether all that was to go has arrived.
pub(in crate::parcels) async fn is_done(conn: &impl ConnectionTrait, row: &Model) -> Result<bool> {
    Ok(all_arrived(&parcels_of(conn, row).await?))
}

/// The same of parcels that were looked at.
pub fn all_arrived(parcels: &[Option<ParcelLook>; 2]) -> bool {
    let mut allotted = parcels.iter().flatten().peekable();
    allotted.peek().is_some() && allotted.all(|look| matches!(look.stage, Stage::Arrived(_)))
}
