//! Threads over JSON.

use actix_web::http::header::LINK;
use actix_web::{HttpResponse, get, post, web};
use serde::{Deserialize, Serialize};
use tarn_domain::streams::AccountId;
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::{fifty, most, place};
use crate::parcels::actions::swaps::state_at;
use crate::parcels::actions::threads::{self, Begun, ThreadLook};
use crate::platform::{Ctx, Result, SignedIn, html};

/// A line to write
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0192f3a4-0000-7000-8000-000000000023", "text": "Are there two females among them?"}))]
pub struct NewLine {
    /// Made by the caller; the same again is the same line
    pub id: Uuid,
    /// 1 to 2,000 signs, plain text
    pub text: String,
}

/// Which threads
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct ThreadsQuery {
    /// Where the list goes on: `next` of the answer before
    after: Option<String>,
    /// How many at most, 1 to 200
    #[serde(default = "fifty")]
    limit: u64,
}

/// A thread in a list
#[derive(Serialize, ToSchema)]
pub struct ThreadBegun {
    thread: Uuid,
    /// What is read of the other
    with: String,
    /// What it is about, in words
    #[schema(required)]
    about: Option<String>,
    /// When somebody last wrote
    last_at: String,
}

/// The caller's threads, those last written in first
#[derive(Serialize, ToSchema)]
pub struct Threads {
    threads: Vec<ThreadBegun>,
    /// Where the list goes on
    #[schema(required)]
    next: Option<String>,
}

/// The thread that a line stands in
#[derive(Serialize, ToSchema)]
pub struct InThread {
    /// Which
    pub thread: Uuid,
}

/// A thread in a list.
pub fn begun(begun: Begun) -> ThreadBegun {
    let row = begun.row;
    ThreadBegun { thread: row.id, with: begun.with, about: row.about, last_at: html::rfc3339(row.last_ms) }
}

/// List the caller's threads, those last written in first
#[utoipa::path(
    tag = "parcels", operation_id = "list_threads", security(("bearer" = [])), params(ThreadsQuery),
    responses((status = 200, description = "Threads", body = Threads, example = json!({"threads": [{
        "thread": "0192f3a4-0000-7000-8000-000000000022", "with": "Jonas B.", "about": "for sale: Poecilia wingei",
        "last_at": "2026-05-25T16:40:12Z"}], "next": null})))
)]
#[get("/threads")]
pub async fn list(
    ctx: web::Data<Ctx>,
    who: SignedIn,
    query: web::Query<ThreadsQuery>,
) -> Result<HttpResponse> {
    let after = place(query.after.as_deref(), "after")?;
    let found = threads::threads(&ctx, AccountId(who.account), after, most(query.limit)).await?;
    let mut answer = HttpResponse::Ok();
    if let Some(next) = &found.next {
        let link = format!("</api/v1/threads?after={next}&limit={}>; rel=\"next\"", query.limit);
        answer.insert_header((LINK, link));
    }
    Ok(answer.json(Threads { threads: found.threads.into_iter().map(begun).collect(), next: found.next }))
}

/// A thread as its two read it
#[derive(Serialize, ToSchema)]
pub struct Thread {
    thread: Uuid,
    /// What is read of the other
    with: String,
    /// What it is about, in words
    #[schema(required)]
    about: Option<String>,
    /// The notice it is about, if the caller may read it now
    #[schema(required)]
    notice: Option<Uuid>,
    /// The oldest first
    lines: Vec<ThreadLine>,
    /// Where older ones are
    #[schema(required)]
    older: Option<String>,
    /// Those that came of it, the newest first
    swaps: Vec<SwapOfThread>,
}

/// A line of a thread
#[derive(Serialize, ToSchema)]
pub struct ThreadLine {
    id: Uuid,
    mine: bool,
    /// `you`, or what is read of the other
    by: String,
    text: String,
    at: String,
}

/// A swap that came of a thread
#[derive(Serialize, ToSchema)]
pub struct SwapOfThread {
    swap: Uuid,
    /// `proposed`, `agreed`, `done`, `declined`, `withdrawn` or `expired`
    state: &'static str,
    /// Whether the caller proposed it
    mine: bool,
}

/// Which of its lines
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct LinesQuery {
    /// Those older than a place: `older` of the answer before
    before: Option<String>,
}

/// Read a thread
///
/// For its two members only. Each line says whether the caller wrote it.
#[utoipa::path(
    tag = "parcels", operation_id = "get_thread", security(("bearer" = [])),
    params(("thread" = Uuid, Path, description = "Which thread"), LinesQuery),
    responses((status = 200, description = "The thread", body = Thread, example = json!({
        "thread": "0192f3a4-0000-7000-8000-000000000022", "with": "Jonas B.", "about": "for sale: Poecilia wingei",
        "notice": "0192f3a4-0000-7000-8000-000000000021", "swaps": [], "older": null,
        "lines": [{"id": "0192f3a4-0000-7000-8000-000000000023", "mine": false, "by": "Jonas B.",
            "text": "Are there two females among them?", "at": "2026-05-25T16:40:12Z"}]})))
)]
#[get("/threads/{thread}")]
pub async fn show(
    ctx: web::Data<Ctx>,
    who: SignedIn,
    id: web::Path<Uuid>,
    query: web::Query<LinesQuery>,
) -> Result<web::Json<Thread>> {
    let before = place(query.before.as_deref(), "before")?;
    let look = threads::thread(&ctx, AccountId(who.account), *id, before).await?;
    Ok(web::Json(told(look, who.account, ctx.clock.now_ms())))
}

fn told(look: ThreadLook, account: Uuid, now_ms: i64) -> Thread {
    let lines = look.lines.into_iter().map(|line| {
        let mine = line.author == account;
        ThreadLine {
            id: line.id,
            mine,
            by: if mine { "you".into() } else { look.with.clone() },
            text: line.text,
            at: html::rfc3339(line.made_ms),
        }
    });
    let swaps = look.swaps.iter().map(|swap| SwapOfThread {
        swap: swap.id,
        state: state_at(swap, now_ms).as_str(),
        mine: swap.proposer == account,
    });
    Thread {
        thread: look.row.id,
        about: look.row.about,
        notice: look.notice,
        lines: lines.collect(),
        older: look.older,
        swaps: swaps.collect(),
        with: look.with,
    }
}

/// Write a line in a thread
#[utoipa::path(
    tag = "parcels", operation_id = "write_line", security(("bearer" = [])), request_body = NewLine,
    params(("thread" = Uuid, Path, description = "Which thread")),
    responses((status = 201, description = "Sent", body = InThread, example = json!({
        "thread": "0192f3a4-0000-7000-8000-000000000022"}))),
    extensions(("x-problems" = json!(["invalid", "too-many-today", "conflict"])))
)]
#[post("/threads/{thread}/lines")]
pub async fn say(
    ctx: web::Data<Ctx>,
    who: SignedIn,
    id: web::Path<Uuid>,
    body: web::Json<NewLine>,
) -> Result<HttpResponse> {
    let thread = threads::say(&ctx, &who, *id, body.id, &body.text).await?;
    Ok(HttpResponse::Created().json(InThread { thread: thread.id }))
}
