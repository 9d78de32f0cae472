//! Stock lists over JSON: to whom a room's is published, and those that the caller may read.

use actix_web::{HttpResponse, get, put, web};
use serde::{Deserialize, Serialize};
use tarn_domain::rooms::Sex;
use tarn_domain::streams::{AccountId, StreamId};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::lineage::actions::published::{self, Audience, ListRow, StockList};
use crate::platform::auth::SignedIn;
use crate::platform::edits::{Expected, etag};
use crate::platform::errors::{INVALID, Problem};
use crate::platform::{Ctx, Result};

/// How many lists an answer has.
const MOST: u64 = 20;

/// To whom a room's stock list goes.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"to": "club", "with_name": false}))]
pub struct Wish {
    /// `nobody`, `club` (the members of the clubs of the room's keepers) or `everyone` (who is signed in).
    to: String,
    /// Whether the caller's shown name stands on it; else "a keeper of" and the club.
    with_name: bool,
}

/// To whom a room's stock list goes, as it is set
#[derive(Serialize, ToSchema)]
pub struct Published {
    /// `nobody`, `club` or `everyone`
    to: &'static str,
    /// Whose shown name stands on it
    #[schema(required)]
    name: Option<String>,
    /// What others read as its breeder
    who: String,
    /// Whose members read it if it goes to `club`
    clubs: Vec<String>,
    /// 0 before it was ever set
    version: i32,
}

async fn answer(ctx: &Ctx, account: AccountId, room: StreamId) -> Result<HttpResponse> {
    let set = published::setting(ctx, account, room).await?;
    let told = Published {
        to: set.to.as_str(),
        name: set.name,
        who: set.who,
        clubs: set.clubs,
        version: set.version,
    };
    Ok(HttpResponse::Ok().insert_header(etag(set.version)).json(told))
}

/// To whom it is published.
#[utoipa::path(
    tag = "lineage", operation_id = "read_published", summary = "To whom a room's stock list is published",
    description = "For keepers of the room. `who` is what others read as its breeder; `clubs` are those whose members \
        read it if it goes to `club`. The header ETag is its version.",
    params(("room" = Uuid, Path, description = "The room")),
    responses((status = 200, description = "What is set", body = Published, example = json!({
        "to": "nobody", "name": null, "who": "a keeper of Fellside Fishkeepers", "clubs": ["Fellside Fishkeepers"], "version": 0}))),
    security(("bearer" = []))
)]
#[get("/rooms/{room}/published")]
pub async fn setting(who: SignedIn, ctx: web::Data<Ctx>, path: web::Path<Uuid>) -> Result<HttpResponse> {
    answer(&ctx, AccountId(who.account), StreamId(*path)).await
}

/// Publishes it.
#[utoipa::path(
    tag = "lineage", operation_id = "publish_stock", summary = "Publish a room's stock list, or take it back",
    description = "Only fish that may leave stand on it: species, form, trade name, brood, numbers. A keeper lets their \
        own name stand on it, never another's.",
    request_body = Wish,
    params(("room" = Uuid, Path, description = "The room"),
        ("If-Match" = Option<String>, Header, description = "The `ETag` that was read")),
    responses((status = 200, description = "What is set; the header ETag is its new version", body = Published, example = json!({
        "to": "club", "name": "Ines Marlow", "who": "Ines Marlow", "clubs": ["Fellside Fishkeepers"], "version": 1}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["invalid", "if-match-missing", "not-the-newest"])))
)]
#[put("/rooms/{room}/published")]
pub async fn publish(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    expected: Expected,
    body: web::Json<Wish>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(who.account), StreamId(*path));
    let to = Audience::parse(&body.to).ok_or_else(|| {
        let why = "nobody, club or everyone";
        Problem::new(&INVALID).detail(format!("A stock list goes to {why}.")).at("/to", why)
    })?;
    published::publish(&ctx, &who.actor(), account, room, &expected, (to, body.with_name)).await?;
    answer(&ctx, account, room).await
}

/// From where a list of lists goes on.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct After {
    after: Option<Uuid>,
}

/// Published stock lists
#[derive(Serialize, ToSchema)]
pub struct StockLists {
    lists: Vec<StockListTold>,
    /// Where the next ones begin
    #[schema(required)]
    next: Option<Uuid>,
}

/// The stock list of a room
#[derive(Serialize, ToSchema)]
#[schema(as = StockList)]
pub struct StockListTold {
    #[schema(value_type = Uuid)]
    room: StreamId,
    /// A shown name, or `a keeper of` and the club
    who: String,
    /// Whether the caller keeps the room
    mine: bool,
    /// `nobody`, `club` or `everyone`
    to: &'static str,
    stock: Vec<StockListed>,
}

/// Fish of one kind and brood that may leave
#[derive(Serialize, ToSchema)]
pub struct StockListed {
    #[schema(required)]
    species: Option<String>,
    /// Colour or fin form
    #[schema(required)]
    form: Option<String>,
    /// The trade name
    #[schema(required)]
    trade: Option<String>,
    /// The brood's code
    #[schema(required)]
    code: Option<String>,
    males: i64,
    females: i64,
    unsexed: i64,
    eggs: i64,
    /// Below 0 where fish are gone of which nobody said the sex
    of_any_sex: i64,
}

fn told(list: StockList) -> StockListTold {
    StockListTold {
        room: list.room,
        who: list.who,
        mine: list.mine,
        to: list.to.as_str(),
        stock: list.rows.into_iter().map(row).collect(),
    }
}

fn row(row: ListRow) -> StockListed {
    let of = |sex| row.of_sex(sex);
    StockListed {
        males: of(Sex::Male),
        females: of(Sex::Female),
        unsexed: of(Sex::Unsexed),
        eggs: of(Sex::Eggs),
        of_any_sex: of(Sex::Any),
        species: row.species,
        form: row.form,
        trade: row.trade,
        code: row.code,
    }
}

/// Lists that the caller may read.
#[utoipa::path(
    tag = "lineage", operation_id = "list_stock_lists", summary = "Published stock lists",
    description = "Those published to everybody and to the caller's clubs, in a fixed order, 20 an answer. `next` is \
        where the next ones begin (`after`), null at the end; the header Link has it too. Fish that quarantine holds \
        stand on none. `of_any_sex` is below 0 where fish are gone of which nobody said the sex.",
    params(("after" = Option<Uuid>, Query, description = "The `next` of the answer before")),
    responses((status = 200, description = "The lists", body = StockLists, example = json!({"lists": [{
        "room": "0190a1b2-0000-7000-8000-000000000001", "who": "Ines Marlow", "mine": false, "to": "club",
        "stock": [{"species": "Apistogramma cacatuoides", "form": null, "trade": null, "code": "AC-26-01", "males": 2,
            "females": 3, "unsexed": 0, "eggs": 0, "of_any_sex": 0}]}], "next": null}))),
    security(("bearer" = []))
)]
#[get("/lists")]
pub async fn show_all(who: SignedIn, ctx: web::Data<Ctx>, asked: web::Query<After>) -> Result<HttpResponse> {
    let (lists, next) = published::lists(&ctx, AccountId(who.account), asked.after, MOST).await?;
    let mut answer = HttpResponse::Ok();
    if let Some(next) = next {
        answer.insert_header(("Link", format!("</api/v1/lists?after={next}>; rel=\"next\"")));
    }
    Ok(answer.json(StockLists { lists: lists.into_iter().map(told).collect(), next }))
}

/// One list.
#[utoipa::path(
    tag = "lineage", operation_id = "read_stock_list", summary = "One stock list",
    description = "For whom it is published to; a keeper of the room reads it before it is published.",
    params(("room" = Uuid, Path, description = "The room whose list it is")),
    responses((status = 200, description = "The list", body = StockListTold, example = json!({
        "room": "0190a1b2-0000-7000-8000-000000000001", "who": "a keeper of Fellside Fishkeepers", "mine": false,
        "to": "everyone", "stock": []}))),
    security(("bearer" = []))
)]
#[get("/lists/{room}")]
pub async fn show(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
) -> Result<web::Json<StockListTold>> {
    Ok(web::Json(told(published::list(&ctx, AccountId(who.account), StreamId(*path)).await?)))
}
