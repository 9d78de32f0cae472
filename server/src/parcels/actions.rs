//! What follows from handing a parcel over, and what both sides may read of one.

use sea_orm::ConnectionTrait;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use tarn_domain::catalogue::Body;
use tarn_domain::parcels::{ParcelSent, ParcelState};
use tarn_domain::rooms::Node;
use tarn_domain::state::EntityState;
use tarn_domain::streams::{AccountId, OpId, ParcelId, StreamId};

use super::store::{self, Side};
use crate::lineage;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result};
use crate::rooms;
use crate::streams::{Follow, Following};

/// The decision that a handed parcel has left, with its fish and their ancestry. Its id is made from that of
/// `parcel.handed`, so that deciding it again after a restore is the same decision.
pub async fn sent(f: &Following<'_>) -> Result<Vec<Follow>> {
    let Body::ParcelHanded(handed) = &f.op.body else { return Ok(Vec::new()) };
    let Some(EntityState::Parcel(parcel)) = f.memory.state(handed.parcel.into()).map(AsRef::as_ref) else {
        return Ok(Vec::new());
    };
    let (Some(packed), None) = (parcel.packed, parcel.sent) else { return Ok(Vec::new()) };
    let to = match &parcel.to {
        Some(login) => rooms::store::account_of_login(f.tx, login).await?.map(|row| AccountId(row.id)),
        None => None,
    };
    let nodes =
        parcel.rows.iter().filter_map(|row| if let Node::Of(node) = row.node { Some(node) } else { None });
    let ancestry = lineage::actions::ancestry_in(f.memory, nodes);
    let body = ParcelSent {
        parcel: handed.parcel,
        to,
        rows: parcel.rows.clone(),
        ancestry,
        relies: vec![packed, f.op.id],
    };
    Ok(vec![Follow { id: follows(f.op.id), at: f.op.at, body: Body::ParcelSent(body) }])
}

/// The id of the decision that follows from an op: of the same millisecond (RFC 9562, version 7), the rest a digest.
fn follows(op: OpId) -> OpId {
    let digest = Sha256::new().chain_update(op.0.as_bytes()).chain_update(b"parcel.sent").finalize();
    let mut bytes = *op.0.as_bytes();
    bytes[6..].copy_from_slice(&digest[..10]);
    bytes[6] = (bytes[6] & 0x0f) | 0x70;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    OpId(uuid::Uuid::from_bytes(bytes))
}

/// The sides of a parcel that an account may read: the giver's once it is sent to them or they keep that room,
/// the receiver's if they keep either.
async fn visible(conn: &impl ConnectionTrait, account: AccountId, sides: Vec<Side>) -> Result<Vec<Side>> {
    let mut party = false;
    for side in &sides {
        party |= side.state.to_account == Some(account) && side.state.sent.is_some();
        party |= rooms::store::is_keeper(conn, side.stream, account).await? && !is_claim(side, &sides);
    }
    Ok(if party { sides } else { Vec::new() })
}

/// An arrival by a room whose keepers the parcel was not sent to is a claim: it opens nothing of the other side.
fn is_claim(side: &Side, sides: &[Side]) -> bool {
    let sent = sides.iter().find(|s| s.state.sent.is_some());
    side.state.packed.is_none() && sent.is_some_and(|s| s.stream != side.stream)
}

/// One parcel as both sides tell it.
///
/// # Errors
/// `not-found` for whoever is no party to it.
pub async fn parcel(ctx: &Ctx, account: AccountId, id: ParcelId) -> Result<Value> {
    let sides = visible(&ctx.db.conn, account, store::sides(&ctx.db.conn, id).await?).await?;
    if sides.is_empty() {
        return Err(Problem::new(&NOT_FOUND));
    }
    Ok(told(id, &sides))
}

/// The parcels sent to an account, and those of the rooms it keeps.
pub async fn parcels(ctx: &Ctx, account: AccountId) -> Result<Vec<Value>> {
    let conn = &ctx.db.conn;
    let kept: Vec<StreamId> =
        rooms::store::rooms_of(conn, account).await?.iter().map(|r| StreamId(r.stream)).collect();
    let mut all = Vec::new();
    for id in store::ids_for(conn, account, &kept).await? {
        let sides = visible(conn, account, store::sides(conn, id).await?).await?;
        if !sides.is_empty() {
            all.push(told(id, &sides));
        }
    }
    Ok(all)
}

fn told(id: ParcelId, sides: &[Side]) -> Value {
    let giver = sides.iter().find(|s| s.state.packed.is_some()).map(|s| &s.state);
    let receiver = sides.iter().find(|s| s.state.arrived.is_some()).map(|s| &s.state);
    let count = |n: Option<i64>| n.unwrap_or(0);
    let sent = giver.filter(|g| g.sent.is_some()).map(|g| g.rows.iter().map(|r| r.n.get()).sum::<i64>());
    let came = receiver.map(|r| r.alive.iter().chain(&r.dead).map(|row| row.n.get()).sum::<i64>());
    let state = match (sent, came) {
        (Some(sent), Some(came)) if sent == came => "arrived",
        (Some(_), Some(_)) => "numbers_differ",
        (Some(_), None) => "sent",
        (None, Some(_)) => "unmatched",
        (None, None) => "packed",
    };
    json!({
        "parcel": id, "state": state, "open": count(sent) - count(came),
        "to": giver.and_then(|g| g.to.clone()), "rows": giver.map(|g| &g.rows), "ancestry": giver.map(|g| &g.ancestry),
        "handed_at": giver.and_then(|g| g.handed).map(|(_, at)| at),
        "arrived_at": receiver.and_then(|r| r.arrived).map(|(_, at)| at),
        "alive": receiver.map(|r: &ParcelState| &r.alive), "dead": receiver.map(|r| &r.dead),
    })
}
