//! Parcels over JSON. What is done with them is ops; here they are read.

use actix_web::{get, web};
use serde_json::{Value, json};
use tarn_domain::streams::{AccountId, ParcelId};
use uuid::Uuid;

use super::actions;
use crate::platform::auth::SignedIn;
use crate::platform::{Ctx, Result};

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
