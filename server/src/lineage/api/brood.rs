//! A brood over JSON: what it is, and what it descends from.

use actix_web::{get, web};
use serde::Serialize;
use tarn_domain::lineage::{Ancestor, BroodCopy};
use tarn_domain::rooms::{Node, Sex};
use tarn_domain::streams::{AccountId, NodeId, StockId, StreamId};
use utoipa::ToSchema;
use uuid::Uuid;

use super::ancestry;
use crate::lineage::actions::brood::{Holding, Seen, ancestors, seen};
use crate::platform::auth::SignedIn;
use crate::platform::{Ctx, Result};

/// A brood
#[derive(Serialize, ToSchema)]
pub struct Brood {
    #[schema(value_type = Uuid)]
    brood: NodeId,
    #[schema(value_type = Option<ancestry::BroodCopy>, required)]
    is: Option<BroodCopy>,
    #[schema(required)]
    determined_by: Option<String>,
    /// Whether the determination is sure
    #[schema(required)]
    sure: Option<bool>,
    from: RecordsOf,
    holdings: Vec<Held>,
}

/// Whose records these are
#[derive(Serialize, ToSchema)]
pub struct RecordsOf {
    #[schema(value_type = Uuid)]
    room: StreamId,
    /// Else the room was told of it with fish
    bred_here: bool,
}

/// Living fish of a brood, in a room of the caller's
#[derive(Serialize, ToSchema)]
pub struct Held {
    #[schema(value_type = Uuid)]
    room: StreamId,
    #[schema(value_type = Uuid)]
    stock: StockId,
    males: i64,
    females: i64,
    unsexed: i64,
    eggs: i64,
}

/// One brood.
#[utoipa::path(
    tag = "lineage", operation_id = "read_brood", summary = "One brood",
    description = "What it is called and how many fish of it live in the caller's rooms. For keepers of a room that \
        bred it or was told of it with fish. `from` says which room's records these are and whether it was bred there.",
    params(("brood" = Uuid, Path, description = "The brood")),
    responses((status = 200, description = "The brood", body = Brood, example = json!({
        "brood": "0190a1b2-0000-7000-8000-00000000000c",
        "is": {"code": "AC-26-01", "species": "Apistogramma cacatuoides", "line": "Cellar", "month": "2026-05", "young": 34},
        "determined_by": null, "sure": null,
        "from": {"room": "0190a1b2-0000-7000-8000-000000000001", "bred_here": true},
        "holdings": [{"room": "0190a1b2-0000-7000-8000-000000000001", "stock": "0190a1b2-0000-7000-8000-00000000000d",
            "males": 2, "females": 3, "unsexed": 0, "eggs": 0}]}))),
    security(("bearer" = []))
)]
#[get("/broods/{brood}")]
pub async fn show(who: SignedIn, ctx: web::Data<Ctx>, path: web::Path<Uuid>) -> Result<web::Json<Brood>> {
    let seen = seen(&ctx, AccountId(who.account), NodeId(*path)).await?;
    let root = seen.ancestors.iter().find(|ancestor| ancestor.node == seen.node);
    let name = seen.home.as_ref().map(|home| &home.name);
    Ok(web::Json(Brood {
        brood: seen.node,
        is: root.and_then(|root| root.brood()).cloned(),
        determined_by: name.and_then(|name| name.determined_by.clone()),
        sure: name.and_then(|name| name.sure),
        from: RecordsOf { room: seen.room, bred_here: seen.home.is_some() },
        holdings: seen.holdings.iter().filter_map(|holding| held(holding, &seen)).collect(),
    }))
}

fn held(holding: &Holding, seen: &Seen) -> Option<Held> {
    let stock = holding.stock()?;
    let of =
        |sex| stock.numbers.rows().find(|(key, _)| *key == (Node::Of(seen.node), sex)).map_or(0, |(_, n)| n);
    Some(Held {
        room: holding.room,
        stock: holding.stock,
        males: of(Sex::Male),
        females: of(Sex::Female),
        unsexed: of(Sex::Unsexed),
        eggs: of(Sex::Eggs),
    })
}

/// What a brood descends from
// written as it is, since it can be long
#[derive(Serialize, ToSchema)]
#[schema(as = Ancestry)]
pub struct AncestryTold {
    #[schema(value_type = Uuid)]
    brood: NodeId,
    /// The nearest first
    #[schema(value_type = Vec<ancestry::Ancestor>)]
    ancestry: Vec<Ancestor>,
}

/// What it descends from.
#[utoipa::path(
    tag = "lineage", operation_id = "read_ancestry", summary = "The ancestry of a brood",
    description = "The brood and everything that it descends from, back to the founders, each once, the nearest first, \
        as far as the caller's room knows it. Parents are groups of breeders, which say of which brood or founders they \
        are. No names of people, no notes, no rooms, no localities.",
    params(("brood" = Uuid, Path, description = "The brood")),
    responses((status = 200, description = "The ancestry", body = AncestryTold, example = json!({
        "brood": "0190a1b2-0000-7000-8000-00000000000c",
        "ancestry": [{"node": "0190a1b2-0000-7000-8000-00000000000c", "is": {"brood": {"code": "AC-26-01", "month": "2026-05",
            "sires": {"of": [{"node": "0190a1b2-0000-7000-8000-00000000000b", "n": 3}], "draw": "one"}}}},
            {"node": "0190a1b2-0000-7000-8000-00000000000b", "is": {"breeders": {
                "of": "0190a1b2-0000-7000-8000-00000000000a", "sex": "male", "n": 3}}},
            {"node": "0190a1b2-0000-7000-8000-00000000000a", "is": {"founders": {
                "species": "Apistogramma cacatuoides", "origin": "bought", "related": "not_known"}}}]}))),
    security(("bearer" = []))
)]
#[get("/broods/{brood}/ancestry")]
pub async fn show_ancestry(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
) -> Result<web::Json<AncestryTold>> {
    let brood = NodeId(*path);
    let ancestry = ancestors(&ctx, AccountId(who.account), brood).await?;
    Ok(web::Json(AncestryTold { brood, ancestry }))
}
