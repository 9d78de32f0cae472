//! A brood over JSON: what it is, and what it descends from.

use actix_web::{get, web};
use serde::Serialize;
use serde_json::{Value, json};
use tarn_domain::lineage::Ancestor;
use tarn_domain::rooms::{Node, Sex};
use tarn_domain::streams::{AccountId, NodeId};
use uuid::Uuid;

use crate::lineage::actions::brood::{Holding, Seen, ancestors, seen};
use crate::platform::auth::SignedIn;
use crate::platform::{Ctx, Result};

/// One brood.
#[utoipa::path(
    tag = "lineage", operation_id = "read_brood", summary = "One brood",
    description = "What it is called and how many fish of it live in the caller's rooms. For keepers of a room that \
        bred it or was told of it with fish. `from` says which room's records these are and whether it was bred there.",
    params(("brood" = Uuid, Path, description = "The brood")),
    responses((status = 200, description = "The brood", body = Value, example = json!({
        "brood": "0190a1b2-0000-7000-8000-00000000000c",
        "is": {"code": "AC-26-01", "species": "Apistogramma cacatuoides", "line": "Cellar", "month": "2026-05", "young": 34},
        "determined_by": null, "sure": null,
        "from": {"room": "0190a1b2-0000-7000-8000-000000000001", "bred_here": true},
        "holdings": [{"room": "0190a1b2-0000-7000-8000-000000000001", "stock": "0190a1b2-0000-7000-8000-00000000000d",
            "males": 2, "females": 3, "unsexed": 0, "eggs": 0}]}))),
    security(("bearer" = []))
)]
#[get("/broods/{brood}")]
pub async fn show(who: SignedIn, ctx: web::Data<Ctx>, path: web::Path<Uuid>) -> Result<web::Json<Value>> {
    let seen = seen(&ctx, AccountId(who.account), NodeId(*path)).await?;
    let root = seen.ancestors.iter().find(|ancestor| ancestor.node == seen.node);
    let name = seen.home.as_ref().map(|home| &home.name);
    Ok(web::Json(json!({
        "brood": seen.node,
        "is": root.and_then(|root| root.brood()),
        "determined_by": name.and_then(|name| name.determined_by.as_ref()),
        "sure": name.and_then(|name| name.sure),
        "from": {"room": seen.room, "bred_here": seen.home.is_some()},
        "holdings": seen.holdings.iter().filter_map(|holding| held(holding, &seen)).collect::<Vec<_>>(),
    })))
}

fn held(holding: &Holding, seen: &Seen) -> Option<Value> {
    let stock = holding.stock()?;
    let of =
        |sex| stock.numbers.rows().find(|(key, _)| *key == (Node::Of(seen.node), sex)).map_or(0, |(_, n)| n);
    Some(json!({
        "room": holding.room, "stock": holding.stock, "males": of(Sex::Male), "females": of(Sex::Female),
        "unsexed": of(Sex::Unsexed), "eggs": of(Sex::Eggs),
    }))
}

/// What a brood descends from: written as it is, since it can be long.
#[derive(Serialize)]
pub struct AncestryTold {
    brood: NodeId,
    ancestry: Vec<Ancestor>,
}

/// What it descends from.
#[utoipa::path(
    tag = "lineage", operation_id = "read_ancestry", summary = "The ancestry of a brood",
    description = "The brood and everything that it descends from, back to the founders, each once, the nearest first, \
        as far as the caller's room knows it. Parents are groups of breeders, which say of which brood or founders they \
        are. No names of people, no notes, no rooms, no localities.",
    params(("brood" = Uuid, Path, description = "The brood")),
    responses((status = 200, description = "The ancestry", body = Value, example = json!({
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
pub async fn ancestry(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
) -> Result<web::Json<AncestryTold>> {
    let brood = NodeId(*path);
    let ancestry = ancestors(&ctx, AccountId(who.account), brood).await?;
    Ok(web::Json(AncestryTold { brood, ancestry }))
}
