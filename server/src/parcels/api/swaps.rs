//! Swaps over JSON.

use actix_web::http::header::LINK;
use actix_web::{HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::streams::AccountId;
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::notices::StockIn;
use super::swapped::{Swap, SwapEnded, Swaps};
use super::{Heads, fifty, most, place, said};
use crate::parcels::actions::swaps::{self, Asked, Given, NewSwap, To, agree, propose, read};
use crate::parcels::refusals::invalid;
use crate::platform::{Ctx, Result, SignedIn};

/// Fish of the caller's that would be given
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Gives {
    /// Their stock
    offer: StockIn,
    numbers: Heads,
    /// Where the records don't say it
    species: Option<String>,
    /// Where the records don't say it
    form: Option<String>,
}

impl From<Gives> for Given {
    fn from(gives: Gives) -> Self {
        Self {
            at: gives.offer.at(),
            numbers: gives.numbers.into(),
            species: said(gives.species),
            form: said(gives.form),
        }
    }
}

/// Fish of the other's that are asked for, offered by a notice
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Asks {
    notice: Uuid,
    numbers: Heads,
}

/// A swap to propose
///
/// To one of `to`, `thread` and `answers`.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0192f3a4-0000-7000-8000-000000000024", "thread": "0192f3a4-0000-7000-8000-000000000022",
    "give": [], "give_words": "Six young of my own line, or what you like of the list.", "ask": [],
    "ask_words": "Two pairs"}))]
struct Proposed {
    /// Made by the caller; the same again is the same proposal
    id: Uuid,
    /// To a member of one of the caller's clubs, by login name
    to: Option<String>,
    /// To the other one of a thread
    thread: Option<Uuid>,
    /// To who proposed this swap, which is thereby declined
    answers: Option<Uuid>,
    #[serde(default)]
    give: Vec<Gives>,
    /// The same in words, or more about it
    give_words: Option<String>,
    #[serde(default)]
    ask: Vec<Asks>,
    /// The same in words, or what else
    ask_words: Option<String>,
}

/// What the one who agrees gives
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"give": []}))]
struct Agreed {
    /// Out of which stocks; left out or empty: those of the notices that were named
    #[serde(default)]
    give: Vec<Gives>,
}

/// Which swaps
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct SwapsQuery {
    /// Where the list goes on: `next` of the answer before
    after: Option<String>,
    /// How many at most, 1 to 200
    #[serde(default = "fifty")]
    limit: u64,
}

/// List the caller's swaps, the newest first
#[utoipa::path(
    tag = "parcels", operation_id = "list_swaps", security(("bearer" = [])), params(SwapsQuery),
    responses((status = 200, description = "Swaps", body = Swaps, example = json!({"swaps": [{
        "id": "0192f3a4-0000-7000-8000-000000000024", "state": "proposed", "mine": true, "with": "Jonas B.",
        "thread": "0192f3a4-0000-7000-8000-000000000022", "answers": null, "answered_by": null, "give": [],
        "give_words": "Six young of my own line", "ask": [{"species": "Poecilia wingei", "form": "Campo",
        "notice": "0192f3a4-0000-7000-8000-000000000021", "numbers": {"males": 2, "females": 2, "unsexed": 0, "eggs": 0}}],
        "ask_words": null, "proposed_at": "2026-05-25T16:40:12Z", "ends_at": "2026-06-08T16:40:12Z",
        "own_parcel": null, "other_parcel": null}],
        "next": null})))
)]
#[get("/swaps")]
pub async fn list(ctx: web::Data<Ctx>, who: SignedIn, query: web::Query<SwapsQuery>) -> Result<HttpResponse> {
    let after = place(query.after.as_deref(), "after")?;
    let found = swaps::swaps(&ctx, AccountId(who.account), after, most(query.limit)).await?;
    let mut answer = HttpResponse::Ok();
    if let Some(next) = &found.next {
        let link = format!("</api/v1/swaps?after={next}&limit={}>; rel=\"next\"", query.limit);
        answer.insert_header((LINK, link));
    }
    Ok(answer.json(Swaps::of(found.swaps, found.next)))
}

/// Read a swap
///
/// For its two sides only. Once agreed it says under which parcel each side packs, and how each parcel stands.
#[utoipa::path(
    tag = "parcels", operation_id = "get_swap", security(("bearer" = [])),
    params(("swap" = Uuid, Path, description = "Which swap")),
    responses((status = 200, description = "The swap", body = Swap, example = json!({
        "id": "0192f3a4-0000-7000-8000-000000000024", "state": "agreed", "mine": true, "with": "Jonas B.",
        "thread": "0192f3a4-0000-7000-8000-000000000022", "answers": null, "answered_by": null, "give": [],
        "give_words": "Six young of my own line", "ask": [{"species": "Poecilia wingei", "form": "Campo",
        "notice": "0192f3a4-0000-7000-8000-000000000021", "numbers": {"males": 2, "females": 2, "unsexed": 0, "eggs": 0}}],
        "ask_words": null, "proposed_at": "2026-05-25T16:40:12Z", "ends_at": "2026-06-08T16:40:12Z",
        "own_parcel": {"parcel": "0192f3a4-0000-7000-8000-000000000025", "state": "not_packed",
        "at": null, "sent": 0, "alive": 0, "dead": 0}, "other_parcel": null, "pack_for": "jonas"})))
)]
#[get("/swaps/{swap}")]
pub async fn show(ctx: web::Data<Ctx>, who: SignedIn, id: web::Path<Uuid>) -> Result<web::Json<Swap>> {
    Ok(web::Json(Swap::of(read(&ctx, AccountId(who.account), *id).await?)))
}

/// Propose a swap
///
/// Of one's own stocks those that may leave now; of the other's what they offer by a notice, or words.
#[utoipa::path(
    tag = "parcels", operation_id = "propose_swap", security(("bearer" = [])), request_body = Proposed,
    responses((status = 201, description = "Proposed", body = Swap, example = json!({
        "id": "0192f3a4-0000-7000-8000-000000000024", "state": "proposed", "mine": true, "with": "Jonas B.",
        "thread": "0192f3a4-0000-7000-8000-000000000022", "answers": null, "answered_by": null, "give": [],
        "give_words": "Six young of my own line", "ask": [{"species": "Poecilia wingei", "form": "Campo",
        "notice": "0192f3a4-0000-7000-8000-000000000021", "numbers": {"males": 2, "females": 2, "unsexed": 0, "eggs": 0}}],
        "ask_words": null, "proposed_at": "2026-05-25T16:40:12Z", "ends_at": "2026-06-08T16:40:12Z",
        "own_parcel": null, "other_parcel": null}))),
    extensions(("x-problems" = json!(["invalid", "by-guardian", "not-found", "quarantine-running", "swap-over", "swap-other-side",
        "too-many-today", "conflict"])))
)]
#[post("/swaps")]
pub async fn post(ctx: web::Data<Ctx>, who: SignedIn, body: web::Json<Proposed>) -> Result<HttpResponse> {
    let body = body.into_inner();
    let to = match (body.to, body.thread, body.answers) {
        (Some(login), None, None) => To::Login(login),
        (None, Some(thread), None) => To::Thread(thread),
        (None, None, Some(swap)) => To::Answers(swap),
        _ => return Err(invalid(vec![("to", "Say one of to, thread and answers.".into())])),
    };
    let new = NewSwap {
        id: body.id,
        to,
        give: body.give.into_iter().map(Given::from).collect(),
        give_words: said(body.give_words),
        ask: body
            .ask
            .into_iter()
            .map(|row| Asked { notice: row.notice, numbers: row.numbers.into() })
            .collect(),
        ask_words: said(body.ask_words),
    };
    let row = propose(&ctx, &who, new).await?;
    Ok(HttpResponse::Created().json(Swap::of(read(&ctx, AccountId(who.account), row.id).await?)))
}

/// Agree to a swap
///
/// Both sides' fish must be free to leave. Each side that gives something gets the id of a parcel to pack under.
#[utoipa::path(
    tag = "parcels", operation_id = "agree_to_swap", security(("bearer" = [])), request_body = Agreed,
    params(("swap" = Uuid, Path, description = "Which swap")),
    responses((status = 200, description = "Agreed", body = Swap, example = json!({
        "id": "0192f3a4-0000-7000-8000-000000000024", "state": "agreed", "mine": false, "with": "Mira K.",
        "thread": "0192f3a4-0000-7000-8000-000000000022", "answers": null, "answered_by": null, "give": [],
        "give_words": "Six young of my own line", "ask": [{"species": "Poecilia wingei", "form": "Campo",
        "notice": "0192f3a4-0000-7000-8000-000000000021", "numbers": {"males": 2, "females": 2, "unsexed": 0, "eggs": 0}}],
        "ask_words": null, "proposed_at": "2026-05-25T16:40:12Z", "ends_at": "2026-06-08T16:40:12Z",
        "own_parcel": {"parcel": "0192f3a4-0000-7000-8000-000000000025", "state": "not_packed",
        "at": null, "sent": 0, "alive": 0, "dead": 0}, "other_parcel": null, "pack_for": "mira"}))),
    extensions(("x-problems" = json!(["invalid", "quarantine-running", "swap-over", "swap-other-side", "swap-not-now"])))
)]
#[post("/swaps/{swap}/agree")]
pub async fn agreed(
    ctx: web::Data<Ctx>,
    who: SignedIn,
    id: web::Path<Uuid>,
    body: web::Json<Agreed>,
) -> Result<web::Json<Swap>> {
    let give = body.into_inner().give.into_iter().map(Given::from).collect();
    agree(&ctx, &who, *id, Some(give)).await?;
    Ok(web::Json(Swap::of(read(&ctx, AccountId(who.account), *id).await?)))
}

/// Decline a swap
#[utoipa::path(
    tag = "parcels", operation_id = "decline_swap", security(("bearer" = [])),
    params(("swap" = Uuid, Path, description = "Which swap")),
    responses((status = 200, description = "Declined", body = SwapEnded, example = json!({"state": "declined"}))),
    extensions(("x-problems" = json!(["swap-over", "swap-other-side"])))
)]
#[post("/swaps/{swap}/decline")]
pub async fn decline(
    ctx: web::Data<Ctx>,
    who: SignedIn,
    id: web::Path<Uuid>,
) -> Result<web::Json<SwapEnded>> {
    let row = swaps::decline(&ctx, &who, *id).await?;
    Ok(web::Json(SwapEnded { state: row.state }))
}

/// Withdraw a swap
///
/// Who proposed it takes the proposal back; either side what was agreed, while no parcel has left.
#[utoipa::path(
    tag = "parcels", operation_id = "withdraw_swap", security(("bearer" = [])),
    params(("swap" = Uuid, Path, description = "Which swap")),
    responses((status = 200, description = "Withdrawn", body = SwapEnded, example = json!({"state": "withdrawn"}))),
    extensions(("x-problems" = json!(["swap-over", "swap-other-side", "swap-left"])))
)]
#[post("/swaps/{swap}/withdraw")]
pub async fn withdraw(
    ctx: web::Data<Ctx>,
    who: SignedIn,
    id: web::Path<Uuid>,
) -> Result<web::Json<SwapEnded>> {
    let row = swaps::withdraw(&ctx, &who, *id).await?;
    Ok(web::Json(SwapEnded { state: row.state }))
}
