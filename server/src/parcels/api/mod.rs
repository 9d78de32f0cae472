//! Parcels over JSON. What is done with them is ops; here they are read. Notices, threads and swaps, which are plain
//! rows, stand in files of their own.

pub mod boards;
pub mod notices;
pub mod swaps;
pub mod threads;

use actix_web::{get, web};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use tarn_domain::rooms::Spread;
use tarn_domain::streams::{AccountId, ParcelId};
use utoipa::ToSchema;
use uuid::Uuid;

use super::actions;
use crate::accounts::actions::place_of;
use crate::platform::auth::SignedIn;
use crate::platform::errors::{MALFORMED, Problem};
use crate::platform::messages::Place;
use crate::platform::{Ctx, Result};

/// How many fish, without lineage
#[derive(Clone, Copy, Default, Deserialize, Serialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
#[schema(example = json!({"males": 2, "females": 3, "unsexed": 0, "eggs": 0}))]
pub struct Heads {
    males: i64,
    females: i64,
    unsexed: i64,
    eggs: i64,
}

impl From<Heads> for Spread {
    fn from(heads: Heads) -> Self {
        Self { males: heads.males, females: heads.females, unsexed: heads.unsexed, eggs: heads.eggs }
    }
}

impl From<Spread> for Heads {
    fn from(spread: Spread) -> Self {
        Self { males: spread.males, females: spread.females, unsexed: spread.unsexed, eggs: spread.eggs }
    }
}

/// Where a list goes on.
fn place(after: Option<&str>, name: &str) -> Result<Option<Place>> {
    let wrong = || {
        Problem::new(&MALFORMED)
            .detail(format!("{name} is not what an answer said"))
            .at(&format!("/{name}"), "No such place.")
    };
    after.map(|cursor| place_of(cursor).ok_or_else(wrong)).transpose()
}

/// How many of a list at once.
fn most(limit: u64) -> usize {
    usize::try_from(limit.clamp(1, 200)).unwrap_or(200)
}

fn fifty() -> u64 {
    50
}

/// A text that may be left out or empty.
fn said(text: Option<String>) -> Option<String> {
    text.filter(|text| !text.trim().is_empty())
}

/// The caller's parcels.
#[utoipa::path(
    tag = "parcels", operation_id = "list_parcels", summary = "The caller's parcels",
    description = "Those sent to the caller, and those of the rooms the caller keeps, the newest first.",
    responses((status = 200, description = "The parcels", body = Value, example = json!({"parcels": []}))),
    security(("bearer" = []))
)]
#[get("/parcels")]
pub async fn list(who: SignedIn, ctx: web::Data<Ctx>) -> Result<web::Json<Value>> {
    Ok(web::Json(json!({"parcels": actions::parcels(&ctx, AccountId(who.account)).await?})))
}

/// One parcel.
#[utoipa::path(
    tag = "parcels", operation_id = "read_parcel", summary = "One parcel",
    description = "What was packed and sent, with the ancestry of the fish, and what arrived. For both sides only.",
    params(("parcel" = Uuid, Path, description = "The parcel")),
    responses((status = 200, description = "The parcel", body = Value, example = json!({
        "parcel": "0190a1b2-0000-7000-8000-00000000000e", "state": "sent", "open": 6}))),
    security(("bearer" = []))
)]
#[get("/parcels/{parcel}")]
pub async fn show(who: SignedIn, ctx: web::Data<Ctx>, path: web::Path<Uuid>) -> Result<web::Json<Value>> {
    Ok(web::Json(actions::parcel(&ctx, AccountId(who.account), ParcelId(*path)).await?))
}
