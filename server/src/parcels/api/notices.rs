//! Notices over JSON.

use actix_web::http::header::LINK;
use actix_web::{HttpResponse, get, post, put, web};
use serde::{Deserialize, Serialize};
use tarn_domain::parcels::{NoticeKind, NoticeSays, Price};
use tarn_domain::streams::{AccountId, StockId, StreamId};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::noticed::{Notice, NoticeEnded, Notices};
use super::threads::{InThread, NewLine, begun};
use super::{Heads, fifty, most, place, said};
use crate::parcels::actions::may_leave::Where;
use crate::parcels::actions::notices::{self, Board, Change, End, NewNotice, Search, board, read};
use crate::parcels::actions::threads;
use crate::parcels::refusals::invalid;
use crate::platform::edits::{Expected, etag};
use crate::platform::{Ctx, Result, SignedIn, html};

/// A price
#[derive(Deserialize, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"minor": 1250, "currency": "EUR"}))]
pub struct Money {
    /// In the minor unit of the currency
    pub minor: i64,
    /// ISO 4217
    pub currency: String,
}

/// A stock in a room of the author's
#[derive(Deserialize, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StockIn {
    /// In which room
    pub room: Uuid,
    /// Which
    pub stock: Uuid,
}

impl StockIn {
    /// Where it is.
    pub fn at(&self) -> Where {
        (StreamId(self.room), StockId(self.stock))
    }
}

/// What a notice says
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"kind": "wanted", "species": "Poecilia wingei", "form": "Campo", "numbers": {"females": 2},
    "area": "Upper valley", "pickup": true, "posting": false, "all_clubs": false}))]
struct Says {
    /// `for_sale`, `to_swap`, `wanted`, `free`
    kind: String,
    /// As it is kept
    species: String,
    /// Colour or fin form
    form: Option<String>,
    /// The author's stock that is offered; what is wanted names none. Shown to nobody else
    offer: Option<StockIn>,
    /// At least one fish, unless it is wanted
    #[serde(default)]
    numbers: Heads,
    /// Of what is for sale or wanted
    price: Option<Money>,
    /// What is taken in exchange
    exchange: Option<String>,
    /// A town or region, never an address
    area: String,
    pickup: bool,
    posting: bool,
    remarks: Option<String>,
    /// Whether members of the other clubs on this server see it too
    #[serde(default)]
    all_clubs: bool,
}

/// A notice to put up
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0192f3a4-0000-7000-8000-000000000021", "club": "0192f3a4-0000-7000-8000-000000000003",
    "notice": {"kind": "wanted", "species": "Poecilia wingei", "form": "Campo", "numbers": {"females": 2},
    "area": "Upper valley", "pickup": true, "posting": false}}))]
struct Posted {
    /// Made by the caller; the same again is the same notice
    id: Uuid,
    /// On whose board
    club: Uuid,
    notice: Says,
}

impl Says {
    fn read(self) -> Result<Change> {
        let kind = kind_named(&self.kind)?;
        let price = self.price.map(|money| Price::of(money.minor, &money.currency)).transpose();
        let price = price.map_err(|why| invalid(vec![("price", why.to_string())]))?;
        let says = NoticeSays {
            kind,
            species: self.species,
            form: said(self.form),
            numbers: self.numbers.into(),
            price,
            exchange: said(self.exchange),
            area: self.area,
            pickup: self.pickup,
            posting: self.posting,
            remarks: said(self.remarks),
        };
        Ok(Change { says, stock: self.offer.map(|offer| offer.at()), all_clubs: self.all_clubs })
    }
}

fn kind_named(word: &str) -> Result<NoticeKind> {
    let known = || NoticeKind::ALL.map(NoticeKind::as_str).join(", ");
    NoticeKind::parse(word).ok_or_else(|| invalid(vec![("kind", format!("The kind is one of {}.", known()))]))
}

/// Which notices
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct NoticesQuery {
    /// Words that must all be in species, form, remarks, exchange or area
    #[serde(default)]
    q: String,
    /// `for_sale`, `to_swap`, `wanted`, `free`
    kind: Option<String>,
    /// On one club's board
    club: Option<Uuid>,
    /// The caller's own, whatever their state
    #[serde(default)]
    mine: bool,
    /// Where the list goes on: `next` of the answer before
    after: Option<String>,
    /// How many at most, 1 to 200
    #[serde(default = "fifty")]
    limit: u64,
}

/// List the notices that the caller may read, those put up last first
///
/// Those on the boards of the caller's clubs, and those of other clubs whose authors say that all may see them. An
/// offer whose fish may not leave now is not among them. The header `Link` names the next page too.
#[utoipa::path(
    tag = "parcels", operation_id = "list_notices", security(("bearer" = [])), params(NoticesQuery),
    responses((status = 200, description = "Notices", body = Notices, example = json!({"notices": [{
        "id": "0192f3a4-0000-7000-8000-000000000021", "kind": "for_sale", "species": "Poecilia wingei",
        "form": "Campo", "numbers": {"males": 2, "females": 3, "unsexed": 0, "eggs": 0},
        "price": {"minor": 1250, "currency": "EUR"}, "exchange": null, "area": "Upper valley", "pickup": true,
        "posting": false, "remarks": null, "club": "0192f3a4-0000-7000-8000-000000000003", "club_name": "Tidepool",
        "all_clubs": false, "author": "Mira K.", "mine": false, "state": "open", "put_up_at": "2026-05-25T16:40:12Z",
        "ends_at": "2026-07-24T16:40:12Z", "cautions": []}], "next": null}))),
    extensions(("x-problems" = json!(["invalid"])))
)]
#[get("/notices")]
pub async fn list(
    ctx: web::Data<Ctx>,
    who: SignedIn,
    query: web::Query<NoticesQuery>,
) -> Result<HttpResponse> {
    let kind = query.kind.as_deref().map(kind_named).transpose()?;
    let search = Search { words: query.q.clone(), kind, club: query.club, author: None, mine: query.mine };
    let after = place(query.after.as_deref(), "after")?;
    let found: Board = board(&ctx, AccountId(who.account), &search, after, most(query.limit)).await?;
    let mut answer = HttpResponse::Ok();
    if let Some(next) = &found.next {
        let mut more = form_urlencoded(&query);
        more.push_str(&format!("&after={next}"));
        answer.insert_header((LINK, format!("</api/v1/notices?{more}>; rel=\"next\"")));
    }
    Ok(answer.json(Notices::of(found.notices, found.next)))
}

/// The query as it was, without its place.
fn form_urlencoded(query: &NoticesQuery) -> String {
    let mut all = format!("limit={}&mine={}&q={}", query.limit, query.mine, html::encoded(&query.q));
    for (name, value) in [("kind", query.kind.clone()), ("club", query.club.map(|club| club.to_string()))] {
        if let Some(value) = value {
            all.push_str(&format!("&{name}={}", html::encoded(&value)));
        }
    }
    all
}

/// Put up a notice
///
/// On the board of a club that the caller is a member of. An offer names a stock in one of the caller's rooms that may
/// leave now. It stands for the club's days, then ends by itself.
#[utoipa::path(
    tag = "parcels", operation_id = "post_notice", security(("bearer" = [])), request_body = Posted,
    responses((status = 201, description = "It stands; the header ETag is its version", body = Notice, example = json!({
        "id": "0192f3a4-0000-7000-8000-000000000021", "kind": "wanted", "species": "Poecilia wingei", "form": "Campo",
        "numbers": {"males": 0, "females": 2, "unsexed": 0, "eggs": 0}, "price": null, "exchange": null,
        "area": "Upper valley", "pickup": true, "posting": false, "remarks": null,
        "club": "0192f3a4-0000-7000-8000-000000000003", "club_name": "Tidepool", "all_clubs": false, "author": "Mira K.",
        "mine": true, "state": "open", "put_up_at": "2026-05-25T16:40:12Z", "ends_at": "2026-07-24T16:40:12Z",
        "cautions": [], "offer": null, "why": null, "not_shown": null, "threads": []}))),
    extensions(("x-problems" = json!(["invalid", "by-guardian", "not-found", "quarantine-running", "too-many-today",
        "conflict"])))
)]
#[post("/notices")]
pub async fn post(ctx: web::Data<Ctx>, who: SignedIn, body: web::Json<Posted>) -> Result<HttpResponse> {
    let Posted { id, club, notice } = body.into_inner();
    let Change { says, stock, all_clubs } = notice.read()?;
    notices::post(&ctx, &who, NewNotice { id, club, says, stock, all_clubs }).await?;
    answer(&ctx, &who, id, HttpResponse::Created()).await
}

async fn answer(
    ctx: &Ctx,
    who: &SignedIn,
    id: Uuid,
    mut answer: actix_web::HttpResponseBuilder,
) -> Result<HttpResponse> {
    let account = AccountId(who.account);
    let look = read(ctx, account, id).await?;
    let threads = threads::begun(ctx, account, id).await?.into_iter().map(begun).collect();
    answer.insert_header(etag(look.row.version));
    Ok(answer.json(Notice::of(look).with(threads)))
}

/// Read a notice
///
/// With the caller's thread about it; for its author, with all of them.
#[utoipa::path(
    tag = "parcels", operation_id = "get_notice", security(("bearer" = [])),
    params(("notice" = Uuid, Path, description = "Which notice")),
    responses((status = 200, description = "The notice; the header ETag is its version", body = Notice, example = json!({
        "id": "0192f3a4-0000-7000-8000-000000000021", "kind": "wanted", "species": "Poecilia wingei", "form": "Campo",
        "numbers": {"males": 0, "females": 2, "unsexed": 0, "eggs": 0}, "price": null, "exchange": null,
        "area": "Upper valley", "pickup": true, "posting": false, "remarks": null,
        "club": "0192f3a4-0000-7000-8000-000000000003", "club_name": "Tidepool", "all_clubs": false, "author": "Mira K.",
        "mine": false, "state": "open", "put_up_at": "2026-05-25T16:40:12Z", "ends_at": "2026-07-24T16:40:12Z",
        "cautions": [], "threads": []})))
)]
#[get("/notices/{notice}")]
pub async fn show(ctx: web::Data<Ctx>, who: SignedIn, id: web::Path<Uuid>) -> Result<HttpResponse> {
    answer(&ctx, &who, *id, HttpResponse::Ok()).await
}

/// Change what a notice says
///
/// All of it is sent. Its kind, its club and its end stay.
#[utoipa::path(
    tag = "parcels", operation_id = "change_notice", security(("bearer" = [])), request_body = Says,
    params(("notice" = Uuid, Path, description = "Which notice"),
        ("If-Match" = Option<String>, Header, description = "The `ETag` that was read")),
    responses((status = 200, description = "Changed; the header ETag is its new version", body = Notice, example = json!({
        "id": "0192f3a4-0000-7000-8000-000000000021", "kind": "wanted", "species": "Poecilia wingei", "form": "Campo",
        "numbers": {"males": 0, "females": 2, "unsexed": 0, "eggs": 0}, "price": null, "exchange": null,
        "area": "Upper valley", "pickup": true, "posting": false, "remarks": null,
        "club": "0192f3a4-0000-7000-8000-000000000003", "club_name": "Tidepool", "all_clubs": false, "author": "Mira K.",
        "mine": true, "state": "open", "put_up_at": "2026-05-25T16:40:12Z", "ends_at": "2026-07-24T16:40:12Z",
        "cautions": [], "offer": null, "why": null, "not_shown": null, "threads": []}))),
    extensions(("x-problems" = json!(["invalid", "by-guardian", "quarantine-running", "notice-over", "if-match-missing",
        "not-the-newest"])))
)]
#[put("/notices/{notice}")]
pub async fn change(
    ctx: web::Data<Ctx>,
    who: SignedIn,
    id: web::Path<Uuid>,
    expected: Expected,
    body: web::Json<Says>,
) -> Result<HttpResponse> {
    notices::change(&ctx, &who, *id, &expected, body.into_inner().read()?).await?;
    answer(&ctx, &who, *id, HttpResponse::Ok()).await
}

/// How a notice ends
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"how": "done"}))]
struct Ended {
    /// `done` (gone to a keeper, or found) or `taken_down`
    how: String,
    /// Why, if an officer of the club takes it down; its author is told
    why: Option<String>,
}

/// End a notice
///
/// Its author ends it. A secretary of its club takes it down with a reason.
#[utoipa::path(
    tag = "parcels", operation_id = "end_notice", security(("bearer" = [])), request_body = Ended,
    params(("notice" = Uuid, Path, description = "Which notice")),
    responses((status = 200, description = "How it stands", body = NoticeEnded, example = json!({"state": "done"}))),
    extensions(("x-problems" = json!(["invalid", "notice-over"])))
)]
#[post("/notices/{notice}/end")]
pub async fn end(
    ctx: web::Data<Ctx>,
    who: SignedIn,
    id: web::Path<Uuid>,
    body: web::Json<Ended>,
) -> Result<web::Json<NoticeEnded>> {
    let how = match body.how.as_str() {
        "done" => End::Done,
        "taken_down" => End::TakenDown(body.why.as_deref()),
        _ => return Err(invalid(vec![("how", "A notice ends as done or taken_down.".into())])),
    };
    let row = notices::end(&ctx, &who, *id, how).await?;
    Ok(web::Json(NoticeEnded { state: row.state }))
}

/// Put a notice up again
///
/// For the club's days, once it has ended, is done or was taken down by its author.
#[utoipa::path(
    tag = "parcels", operation_id = "put_up_again", security(("bearer" = [])),
    params(("notice" = Uuid, Path, description = "Which notice")),
    responses((status = 200, description = "It stands", body = Notice, example = json!({
        "id": "0192f3a4-0000-7000-8000-000000000021", "kind": "wanted", "species": "Poecilia wingei", "form": "Campo",
        "numbers": {"males": 0, "females": 2, "unsexed": 0, "eggs": 0}, "price": null, "exchange": null,
        "area": "Upper valley", "pickup": true, "posting": false, "remarks": null,
        "club": "0192f3a4-0000-7000-8000-000000000003", "club_name": "Tidepool", "all_clubs": false, "author": "Mira K.",
        "mine": true, "state": "open", "put_up_at": "2026-05-25T16:40:12Z", "ends_at": "2026-07-24T16:40:12Z",
        "cautions": [], "offer": null, "why": null, "not_shown": null, "threads": []}))),
    extensions(("x-problems" = json!(["invalid", "notice-stands", "notice-over", "quarantine-running", "too-many-today"])))
)]
#[post("/notices/{notice}/again")]
pub async fn again(ctx: web::Data<Ctx>, who: SignedIn, id: web::Path<Uuid>) -> Result<HttpResponse> {
    notices::again(&ctx, &who, *id).await?;
    answer(&ctx, &who, *id, HttpResponse::Ok()).await
}

/// Reply to a notice
///
/// The first reply begins a thread between the caller and the author. Both read shown names only.
#[utoipa::path(
    tag = "parcels", operation_id = "reply_to_notice", security(("bearer" = [])), request_body = NewLine,
    params(("notice" = Uuid, Path, description = "Which notice")),
    responses((status = 201, description = "Sent", body = InThread, example = json!({
        "thread": "0192f3a4-0000-7000-8000-000000000022"}))),
    extensions(("x-problems" = json!(["invalid", "own-notice", "by-guardian", "too-many-today", "conflict"])))
)]
#[post("/notices/{notice}/replies")]
pub async fn reply(
    ctx: web::Data<Ctx>,
    who: SignedIn,
    id: web::Path<Uuid>,
    body: web::Json<NewLine>,
) -> Result<HttpResponse> {
    let thread = threads::reply(&ctx, &who, *id, body.id, &body.text).await?;
    Ok(HttpResponse::Created().json(InThread { thread: thread.id }))
}
