//! What follows from handing a parcel over, and what both sides may read of one.

mod agree;
mod leaving;
mod matched;
pub mod may_leave;
pub mod notices;
mod on_the_way;
mod settle;
pub mod standing;
pub mod swaps;
pub mod threads;
mod told;

use sea_orm::ConnectionTrait;
use tarn_domain::catalogue::Body;
use tarn_domain::parcels::{MOST_TEXT, ParcelSent};
use tarn_domain::state::{Entry, Memory};
use tarn_domain::streams::{AccountId, ParcelId, StreamId};

use super::store::{self, Side};
use crate::lineage;
use crate::platform::errors::{INVALID, NOT_FOUND, Problem};
use crate::platform::{Ctx, Result};
use crate::rooms;
use crate::streams::{Follow, Following, following_id};

pub use agree::{Agreement, agree};
pub use leaving::{leave, own_data, room_goes};
pub use matched::{freshen, matched, news};
pub use on_the_way::{OnTheWay, ahead, told, wall_of};
pub use settle::{DAYS, Overdue, Settlement, overdue, overdue_one, settle, tell_officers};
pub use told::ParcelTold;

/// The decision that a handed parcel has left, with its fish and their ancestry. Its id is made from that of
/// `parcel.handed`, so that deciding it again after a restore is the same decision.
pub async fn sent(f: &Following<'_>) -> Result<Vec<Follow>> {
    let Body::ParcelHanded(handed) = &f.op.body else { return Ok(Vec::new()) };
    let Some(parcel) = f.memory.parcel(handed.parcel) else { return Ok(Vec::new()) };
    let (Some(packed), None) = (parcel.packed, parcel.sent) else { return Ok(Vec::new()) };
    // Handed over and taken back in one push: the bag never left.
    if parcel.handed.is_none_or(|(op, _)| op != f.op.id) {
        return Ok(Vec::new());
    }
    let to = match &parcel.to {
        Some(login) => rooms::store::account_of_login(f.tx, login).await?.map(|row| AccountId(row.id)),
        None => None,
    };
    let nodes = parcel.rows.iter().filter_map(|row| row.node.id());
    let ancestry = lineage::actions::ancestry_to_hand_on(f.tx, f.stream, f.memory, nodes).await?;
    let body = ParcelSent {
        parcel: handed.parcel,
        to,
        rows: parcel.rows.clone(),
        ancestry,
        relies: vec![packed, f.op.id],
    };
    Ok(vec![Follow {
        id: following_id(f.op.id, "parcel.sent"),
        at: f.op.at,
        body: Body::ParcelSent(body),
        job: None,
    }])
}

/// The sides of a parcel that an account may read. Only the room that sent it speaks for the giver, and only a room
/// that the addressee keeps for the receiver; whatever another room says of it is that room's alone.
async fn visible(conn: &impl ConnectionTrait, account: AccountId, sides: Vec<Side>) -> Result<Vec<Side>> {
    let sent = sides.iter().find(|side| side.state.sent.is_some());
    let Some(to) = sent.map(|side| side.state.to_account) else {
        return kept(conn, account, sides).await;
    };
    let mut true_sides = Vec::new();
    let mut party = to == Some(account);
    for side in sides {
        let keeps = rooms::store::is_keeper(conn, side.stream, account).await?;
        let for_them = match to {
            Some(to) => rooms::store::is_keeper(conn, side.stream, to).await?,
            None => false,
        };
        if side.state.sent.is_some() || (for_them && side.state.arrived.is_some()) {
            party |= keeps;
            true_sides.push(side);
        }
    }
    Ok(if party { true_sides } else { Vec::new() })
}

/// Before it is sent, each room sees what it says itself.
async fn kept(conn: &impl ConnectionTrait, account: AccountId, sides: Vec<Side>) -> Result<Vec<Side>> {
    let mut own = Vec::new();
    for side in sides {
        if rooms::store::is_keeper(conn, side.stream, account).await? {
            own.push(side);
        }
    }
    Ok(own)
}

/// Whether an entry is the arrival that matches what another room sent to a keeper of this one: then it can't be taken
/// back, or the fish would be on their way again and here too. A second arrival under the same id can.
pub async fn is_matched(
    conn: &impl ConnectionTrait,
    stream: StreamId,
    entry: &Entry,
    memory: &Memory,
) -> Result<bool> {
    let Some(Body::ParcelArrived(arrived)) = entry.body.as_deref() else { return Ok(false) };
    let here = memory.parcel(arrived.parcel);
    if here.and_then(|parcel| parcel.arrived).is_none_or(|(op, _)| op != entry.linked.order.id) {
        return Ok(false);
    }
    let matched = here.is_some_and(|parcel| parcel.matched.is_some());
    for side in store::sides(conn, arrived.parcel).await? {
        let Some(to) = side.state.to_account.filter(|_| side.stream != stream && side.state.sent.is_some())
        else {
            continue;
        };
        let elsewhere = side.state.received.is_some() && !matched;
        if !elsewhere && rooms::store::is_keeper(conn, stream, to).await? {
            return Ok(true);
        }
    }
    Ok(false)
}

/// A reason that is kept, with what it is asked for if it is missing or too long.
fn reason(typed: &str, asked: &str) -> Result<String> {
    let why = typed.trim();
    if why.is_empty() || why.chars().count() > MOST_TEXT {
        return Err(Problem::new(&INVALID)
            .detail(format!("Say {asked}, in at most 2,000 characters."))
            .at("/why", "A reason is needed, of at most 2,000 characters."));
    }
    Ok(why.to_owned())
}

/// The sides of a parcel that speak for the two: of the giver the room that sent it, of the receiver the room of the
/// addressee in which it arrived, and which its giver was told of if there are several.
pub async fn true_sides(conn: &impl ConnectionTrait, sides: Vec<Side>) -> Result<Vec<Side>> {
    let Some(at) = sides.iter().position(|side| side.state.sent.is_some()) else { return Ok(Vec::new()) };
    let (to, known) =
        sides.get(at).map_or((None, false), |s| (s.state.to_account, s.state.received.is_some()));
    let mut all = Vec::new();
    for (place, side) in sides.into_iter().enumerate() {
        let theirs = match to {
            Some(to) if side.state.arrived.is_some() => {
                rooms::store::is_keeper(conn, side.stream, to).await?
            }
            _ => false,
        };
        if place == at || (theirs && (!known || side.state.matched.is_some())) {
            all.push(side);
        }
    }
    Ok(all)
}

/// The sides of a parcel that an account may read.
///
/// # Errors
/// `not-found` for whoever is no party to it.
pub async fn sides_for(ctx: &Ctx, account: AccountId, id: ParcelId) -> Result<Vec<Side>> {
    let sides = visible(&ctx.db.conn, account, store::sides(&ctx.db.conn, id).await?).await?;
    if sides.is_empty() { Err(Problem::new(&NOT_FOUND)) } else { Ok(sides) }
}

/// The parcels sent to an account, and those of the rooms it keeps, the newest first, with what it may read of them.
pub async fn all_for(ctx: &Ctx, account: AccountId) -> Result<Vec<(ParcelId, Vec<Side>)>> {
    let conn = &ctx.db.conn;
    let kept: Vec<StreamId> =
        rooms::store::rooms_of(conn, account).await?.iter().map(|r| StreamId(r.stream)).collect();
    let mut all = Vec::new();
    for id in store::ids_for(conn, account, &kept).await? {
        let sides = visible(conn, account, store::sides(conn, id).await?).await?;
        if !sides.is_empty() {
            all.push((id, sides));
        }
    }
    Ok(all)
}

/// One parcel as both sides tell it.
///
/// # Errors
/// `not-found` for whoever is no party to it.
pub async fn parcel(ctx: &Ctx, account: AccountId, id: ParcelId) -> Result<ParcelTold> {
    told::told(ctx, account, id, &sides_for(ctx, account, id).await?).await
}

/// The parcels sent to an account, and those of the rooms it keeps.
pub async fn parcels(ctx: &Ctx, account: AccountId) -> Result<Vec<ParcelTold>> {
    let mut all = Vec::new();
    for (id, sides) in all_for(ctx, account).await? {
        all.push(told::told(ctx, account, id, &sides).await?);
    }
    Ok(all)
}
