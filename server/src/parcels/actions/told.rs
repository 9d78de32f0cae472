//! A parcel as a program reads it.

use serde::Serialize;
use tarn_domain::lineage::Ancestor;
use tarn_domain::parcels::{Outcome, PackedRow, sent_rows};
use tarn_domain::rooms::{Count, Node, Row, Sex};
use tarn_domain::streams::{AccountId, At, ParcelId, StockId};
use utoipa::ToSchema;

use super::standing::standing;
use crate::lineage::api::ancestry;
use crate::parcels::store::{self, Side};
use crate::platform::{Ctx, Result};
use crate::rooms::{self, api::fish};

/// A parcel, as both sides tell it to one of them
#[derive(Serialize, ToSchema)]
#[schema(as = Parcel)]
pub struct ParcelTold {
    #[schema(value_type = Uuid)]
    parcel: ParcelId,
    /// The server whose ids these are
    issuer: String,
    /// `packed`, `sent`, `arrived`, `numbers_differ`, `unmatched`, `returned` or `settled`
    state: &'static str,
    /// Sent, less what arrived, came back or was settled; below 0 where more came than were sent
    open: i64,
    lines: Vec<LineTold>,
    /// Who sent it, by login name
    from: Vec<String>,
    /// For whom, by login name
    #[schema(required)]
    to: Option<String>,
    /// What was packed; null: by nobody whom this server knows
    #[schema(required)]
    rows: Option<Vec<PackedTold>>,
    /// The fish and what they descend from
    #[schema(value_type = Option<Vec<ancestry::Ancestor>>, required)]
    ancestry: Option<Vec<Ancestor>>,
    #[schema(value_type = Option<String>, required)]
    handed_at: Option<At>,
    #[schema(value_type = Option<String>, required)]
    arrived_at: Option<At>,
    /// By the receiver's count
    #[schema(value_type = Option<Vec<fish::Row>>, required)]
    alive: Option<Vec<Row>>,
    #[schema(value_type = Option<Vec<fish::Row>>, required)]
    dead: Option<Vec<Row>>,
    #[schema(required)]
    settled: Option<SettledTold>,
}

/// Fish of one node and sex: how many were sent, and how many came
#[derive(Serialize, ToSchema)]
#[schema(as = ParcelLine)]
pub struct LineTold {
    #[schema(value_type = fish::Node)]
    node: Node,
    #[schema(value_type = fish::Sex)]
    sex: Sex,
    sent: i64,
    alive: i64,
    dead: i64,
}

/// So many fish of one node and sex in a bag
#[derive(Serialize, ToSchema)]
#[schema(as = PackedFish)]
pub struct PackedTold {
    /// Out of which stock; only for keepers of the giver's room
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Uuid>, nullable = false)]
    stock: Option<StockId>,
    #[schema(value_type = fish::Node)]
    node: Node,
    #[schema(value_type = fish::Sex)]
    sex: Sex,
    #[schema(value_type = u32)]
    n: Count,
}

impl PackedTold {
    fn out_of(row: &PackedRow) -> Self {
        Self { stock: Some(row.stock), node: row.node, sex: row.sex, n: row.n }
    }

    fn of(row: Row) -> Self {
        Self { stock: None, node: row.node, sex: row.sex, n: row.n }
    }
}

/// How an officer settled what was open
#[derive(Serialize, ToSchema)]
#[schema(as = SettledParcel)]
pub struct SettledTold {
    /// `arrived`, `returned` or `lost`
    #[schema(value_type = String)]
    outcome: Outcome,
    #[schema(value_type = String)]
    at: At,
    why: String,
}

/// One parcel, as both sides tell it to one of them.
pub async fn told(ctx: &Ctx, account: AccountId, id: ParcelId, sides: &[Side]) -> Result<ParcelTold> {
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
    let rows = giver.map(|giver| match own {
        true => giver.rows.iter().map(PackedTold::out_of).collect(),
        false => sent_rows(&giver.rows).into_iter().map(PackedTold::of).collect(),
    });
    let line = |(&(node, sex), line): (&(Node, Sex), &super::standing::Line)| LineTold {
        node,
        sex,
        sent: line.sent,
        alive: line.alive,
        dead: line.dead,
    };
    let settled = giver.and_then(|giver| giver.settled.as_ref());
    Ok(ParcelTold {
        parcel: id,
        issuer: ctx.issuer(),
        state: all.stage.word(),
        open: all.open,
        lines: all.lines.iter().map(line).collect(),
        from,
        to: giver.and_then(|giver| giver.to.clone()),
        rows,
        ancestry: giver.map(|giver| giver.ancestry.clone()),
        handed_at: giver.and_then(|giver| giver.handed).map(|(_, at)| at),
        arrived_at: came.and_then(|came| came.arrived).map(|(_, at)| at),
        alive: came.map(|came| came.alive.clone()),
        dead: came.map(|came| came.dead.clone()),
        settled: settled.map(|s| SettledTold { outcome: s.outcome, at: s.at, why: s.why.clone() }),
    })
}
