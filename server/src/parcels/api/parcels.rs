//! Parcels over JSON. What is done with them is ops; here they are read, and officers and stewards decide.

use actix_web::{get, post, web};
use serde::{Deserialize, Serialize};
use tarn_domain::parcels::Outcome;
use tarn_domain::rooms::Numbers;
use tarn_domain::streams::{AccountId, At, OpId, ParcelId, StreamId, UnitId};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::parcels::actions::{self, Agreement, ParcelTold, Settlement};
use crate::platform::auth::{FreshSession, SignedIn};
use crate::platform::{Ctx, Result};
use crate::rooms::api::fish;

/// The caller's parcels
#[derive(Serialize, ToSchema)]
pub struct Parcels {
    parcels: Vec<ParcelTold>,
}

/// The caller's parcels.
#[utoipa::path(
    tag = "parcels", operation_id = "list_parcels", summary = "The caller's parcels",
    description = "Those sent to the caller, and those of the rooms the caller keeps, the newest first.",
    responses((status = 200, description = "The parcels", body = Parcels, example = json!({"parcels": []}))),
    security(("bearer" = []))
)]
#[get("/parcels")]
pub async fn list(who: SignedIn, ctx: web::Data<Ctx>) -> Result<web::Json<Parcels>> {
    Ok(web::Json(Parcels { parcels: actions::parcels(&ctx, AccountId(who.account)).await? }))
}

/// Parcels that are open too long
#[derive(Serialize, ToSchema)]
pub struct OverdueParcels {
    /// The oldest first
    parcels: Vec<OverdueParcel>,
}

/// A parcel that is open too long
#[derive(Serialize, ToSchema)]
pub struct OverdueParcel {
    #[schema(value_type = Uuid)]
    parcel: ParcelId,
    /// How many fish are open of it; below 0 where more came than were sent
    open: i64,
    /// The same by node and sex
    #[schema(value_type = Vec<fish::SignedRow>)]
    rows: Numbers,
    #[schema(value_type = String)]
    handed_at: At,
}

/// The parcels that the caller may settle.
#[utoipa::path(
    tag = "parcels", operation_id = "list_overdue_parcels", summary = "Parcels that are open too long",
    description = "For a secretary or health steward: parcels of the club's members, handed over 14 days ago or more, of \
        which not all fish are accounted for. Not those to which the caller is a party.",
    responses((status = 200, description = "The parcels, the oldest first", body = OverdueParcels,
        example = json!({"parcels": [{"parcel": "0190a1b2-0000-7000-8000-00000000000e", "open": 6,
            "rows": [{"node": "0190a1b2-0000-7000-8000-00000000000c", "sex": "unsexed", "n": 6}],
            "handed_at": "2026-03-01T18:00:00Z"}]}))),
    security(("bearer" = []))
)]
#[get("/parcels/overdue")]
pub async fn overdue(who: SignedIn, ctx: web::Data<Ctx>) -> Result<web::Json<OverdueParcels>> {
    let all = actions::overdue(&ctx, AccountId(who.account)).await?;
    let told = all.into_iter().map(|p| OverdueParcel {
        parcel: p.parcel,
        open: p.open.total(),
        rows: p.open,
        handed_at: p.handed,
    });
    Ok(web::Json(OverdueParcels { parcels: told.collect() }))
}

/// One parcel.
#[utoipa::path(
    tag = "parcels", operation_id = "read_parcel", summary = "One parcel",
    description = "What was packed and sent, with the ancestry of the fish, and what arrived. For both sides only. The ids \
        of the ancestry mean something only together with `issuer`. Out of which stocks `rows` were packed stands in them \
        for keepers of the giver's room only.",
    params(("parcel" = Uuid, Path, description = "The parcel")),
    responses((status = 200, description = "The parcel", body = ParcelTold, example = json!({
        "parcel": "0190a1b2-0000-7000-8000-00000000000e", "issuer": "https://tarn.example", "state": "sent", "open": 6,
        "lines": [{"node": "0190a1b2-0000-7000-8000-00000000000c", "sex": "unsexed", "sent": 6, "alive": 0, "dead": 0}],
        "from": ["ines"], "to": "jonas",
        "rows": [{"node": "0190a1b2-0000-7000-8000-00000000000c", "sex": "unsexed", "n": 6}],
        "ancestry": [{"node": "0190a1b2-0000-7000-8000-00000000000c", "is": {"brood": {"code": "AC-26-01", "month": "2026-05"}}}],
        "handed_at": "2026-03-01T18:00:00Z", "arrived_at": null, "alive": null, "dead": null, "settled": null}))),
    security(("bearer" = []))
)]
#[get("/parcels/{parcel}")]
pub async fn show(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
) -> Result<web::Json<ParcelTold>> {
    Ok(web::Json(actions::parcel(&ctx, AccountId(who.account), ParcelId(*path)).await?))
}

/// What an officer finds became of a parcel.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0190a1b2-0000-7000-8000-00000000000c", "outcome": "lost",
    "why": "The carrier lost the box; both keepers say so."}))]
pub struct NewSettlement {
    /// Made by the caller; the same again is done already.
    id: Uuid,
    /// `arrived`, `returned` or `lost`.
    #[schema(value_type = String)]
    outcome: Outcome,
    /// Why.
    why: String,
}

/// What a parcel was settled as
#[derive(Serialize, ToSchema)]
pub struct Settling {
    /// `arrived`, `returned` or `lost`
    #[schema(value_type = String)]
    settled: Outcome,
}

/// Settles what is open of a parcel.
#[utoipa::path(
    tag = "parcels", operation_id = "settle_parcel", summary = "Settle a parcel that was not closed",
    description = "By a secretary or health steward of a club of one of the two sides, who is no party, once 14 days have \
        passed since it was handed over. Both sides are told, with the reason.",
    params(("parcel" = Uuid, Path, description = "The parcel")), request_body = NewSettlement,
    responses((status = 200, description = "It stands", body = Settling, example = json!({"settled": "lost"}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["parcel-by-party", "parcel-not-due", "parcel-closed",
        "session-ended", "invalid"])))
)]
#[post("/parcels/{parcel}/settlement")]
pub async fn settle(
    who: FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<NewSettlement>,
) -> Result<web::Json<Settling>> {
    let NewSettlement { id, outcome, why } = body.into_inner();
    let ask = Settlement { id: OpId(id), parcel: ParcelId(*path), outcome, why };
    actions::settle(&ctx, &who, &ask).await?;
    Ok(web::Json(Settling { settled: outcome }))
}

/// A parcel in quarantine.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0190a1b2-0000-7000-8000-00000000000c", "room": "0190a1b2-0000-7000-8000-000000000001",
    "to": "jonas", "why": "The heating of the house is out for weeks."}))]
pub struct NewAgreement {
    /// Made by the caller; the same again is done already.
    id: Uuid,
    /// The room.
    room: Uuid,
    /// For whom, by login name.
    to: String,
    /// Why the fish can't stay.
    why: String,
}

/// The parcel under which fish in quarantine may be packed
#[derive(Serialize, ToSchema)]
pub struct AgreedParcel {
    #[schema(value_type = Uuid)]
    parcel: ParcelId,
}

/// Agrees a parcel in quarantine.
#[utoipa::path(
    tag = "parcels", operation_id = "agree_parcel", summary = "Let fish in quarantine leave in one parcel",
    description = "By a health steward who may sign the unit off, when a room must be emptied (death, illness, fire, \
        power). Nothing is cleared: the clock starts again at the receiver. Answers the parcel under which they may be packed.",
    params(("unit" = Uuid, Path, description = "The unit")), request_body = NewAgreement,
    responses((status = 200, description = "It stands", body = AgreedParcel,
        example = json!({"parcel": "0190a1b2-0000-7000-8000-00000000000e"}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["not-a-steward", "parcel-to-nobody", "session-ended",
        "invalid"])))
)]
#[post("/quarantine/units/{unit}/parcel")]
pub async fn agree(
    who: FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<NewAgreement>,
) -> Result<web::Json<AgreedParcel>> {
    let NewAgreement { id, room, to, why } = body.into_inner();
    let ask = Agreement { id: OpId(id), room: StreamId(room), unit: UnitId(*path), to, why };
    Ok(web::Json(AgreedParcel { parcel: actions::agree(&ctx, &who, &ask).await? }))
}
