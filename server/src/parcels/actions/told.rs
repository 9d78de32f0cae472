//! A parcel as a program reads it.

use serde_json::{Value, json};
use tarn_domain::parcels::sent_rows;
use tarn_domain::streams::{AccountId, ParcelId};

use super::standing::standing;
use crate::parcels::store::{self, Side};
use crate::platform::{Ctx, Result};
use crate::rooms;

/// One parcel, as both sides tell it to one of them.
pub async fn as_json(ctx: &Ctx, account: AccountId, id: ParcelId, sides: &[Side]) -> Result<Value> {
    let all = standing(sides);
    let (giver, receiver) = (all.giver, all.receiver);
    let came = receiver.or(giver.filter(|giver| giver.is_returned()));
    let sender = sides.iter().find(|side| side.state.sent.is_some());
    // a bag goes back to whoever sent it, so the addressee has to know who that is
    let from = match sender {
        Some(side) => store::logins_of(&ctx.db.conn, side.stream).await?,
        None => Vec::new(),
    };
    let own = match sender.or_else(|| sides.iter().find(|side| side.state.packed.is_some())) {
        Some(side) => rooms::store::is_keeper(&ctx.db.conn, side.stream, account).await?,
        None => false,
    };
    // out of which stocks they were packed is nothing to who does not keep the giver's room
    let rows = giver.map(|giver| if own { json!(giver.rows) } else { json!(sent_rows(&giver.rows)) });
    let lines: Vec<Value> = all
        .lines
        .iter()
        .map(|((node, sex), line)| {
            json!({"node": node, "sex": sex, "sent": line.sent, "alive": line.alive, "dead": line.dead})
        })
        .collect();
    let settled = giver.and_then(|giver| giver.settled.as_ref());
    Ok(json!({
        "parcel": id, "issuer": ctx.issuer(), "state": all.stage.word(), "open": all.open, "lines": lines,
        "from": from, "to": giver.and_then(|g| g.to.clone()), "rows": rows,
        "ancestry": giver.map(|g| &g.ancestry),
        "handed_at": giver.and_then(|g| g.handed).map(|(_, at)| at),
        "arrived_at": came.and_then(|r| r.arrived).map(|(_, at)| at),
        "alive": came.map(|r| &r.alive), "dead": came.map(|r| &r.dead),
        "settled": settled.map(|s| json!({"outcome": s.outcome, "at": s.at, "why": s.why})),
    }))
}
