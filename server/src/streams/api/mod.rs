//! The sync endpoints: HTTP over `streams`, nothing more.

pub mod bring;
mod devices;
pub mod hand_over;
pub mod redact;
pub mod shapes;

use std::collections::BTreeMap;
use std::fmt::Write;

use actix_web::dev::Decompress;
use actix_web::http::header::{self, ContentType};
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use futures_util::{StreamExt, stream::unfold};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use tarn_domain::catalogue::{OPS_VERSION, published};
use tarn_domain::streams::{AccountId, Chain, EpochId, LARGEST_PUSH_BYTES, StreamId};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use shapes::{OpResult, PulledOps, PushDone, PushedOps};

pub use devices::register;

use crate::platform::auth::{FreshSession, SignedIn};
use crate::platform::errors::{MALFORMED, Problem};
use crate::platform::{Ctx, Result};
use crate::streams::actions::{self, Outcome, Pull};
use crate::streams::refusals::PUSH_TOO_LARGE;
use crate::streams::store::cache::room;
use crate::streams::{Right, actions::may};

/// The streams that the caller may pull
#[derive(Serialize, ToSchema)]
pub struct Streams {
    /// The name under which ids of this server are told elsewhere
    issuer: String,
    streams: Vec<StreamListed>,
}

/// A stream as its reader sees it
#[derive(Serialize, ToSchema)]
pub struct StreamListed {
    #[schema(value_type = Uuid)]
    stream: StreamId,
    /// `room`, `hall` or `library`
    kind: String,
    name: String,
    #[schema(value_type = Uuid)]
    epoch: EpochId,
    /// The greatest number in it
    head: u64,
    /// The server's version of the ops
    ops_version: u32,
    /// `read` or `write`
    rights: &'static str,
}

impl From<actions::Listed> for StreamListed {
    fn from(listed: actions::Listed) -> Self {
        Self {
            stream: listed.stream,
            kind: listed.kind,
            name: listed.name,
            epoch: listed.epoch,
            head: listed.head,
            ops_version: OPS_VERSION,
            rights: if listed.right == Right::Write { "write" } else { "read" },
        }
    }
}

/// The caller's streams.
#[utoipa::path(
    tag = "streams", operation_id = "list_streams", summary = "The caller's streams",
    description = "Every stream the caller may pull, with its epoch, its head and the server's version of the ops; and the \
        name under which ids of this server are told elsewhere.",
    responses((status = 200, description = "The streams", body = Streams, example = json!({"issuer": "https://tarn.example",
        "streams": [{"stream": "0190a1b2-0000-7000-8000-000000000001", "kind": "room", "name": "Cellar room", "epoch": "6f1d6c7e-0d0d-4f6e-9d8e-000000000001",
        "head": 42, "ops_version": 1, "rights": "write"}]}))),
    security(("bearer" = []))
)]
#[get("/streams")]
pub async fn list(who: SignedIn, ctx: web::Data<Ctx>) -> Result<web::Json<Streams>> {
    let streams = actions::list(&ctx, AccountId(who.account)).await?;
    let streams = streams.into_iter().map(StreamListed::from).collect();
    Ok(web::Json(Streams { issuer: ctx.issuer(), streams }))
}

/// A push.
#[utoipa::path(
    tag = "streams", operation_id = "push_ops", summary = "Push ops",
    description = "At most 1,000 ops or 4 MiB after decompression, in the order of their clocks. Each op is judged by \
        itself and has its own result; only `clock-ahead`, `push-too-large`, `quota`, `device-ended` and a broken outer document \
        refuse the whole push. Answered after the commit.",
    params(("stream" = Uuid, Path, description = "The stream")),
    request_body(content = PushedOps, description = "The ops, each with its receipt if it was accepted before a restore",
        example = json!({"ops": [{"op": {"id": "0190a1b2-0000-7000-8000-00000000000a",
        "device": "0190a1b2-0000-7000-8000-000000000002", "clock": "2026-03-01T09:30:00.123Z/0004",
        "at": "2026-03-01T09:28:00Z", "body": {"op": "tank.added", "tank": "0190a1b2-0000-7000-8000-00000000000b", "name": "A1"}}}]})),
    responses((status = 200, description = "One result per op", body = PushDone, example = json!({
        "epoch": "6f1d6c7e-0d0d-4f6e-9d8e-000000000001", "head": 43,
        "results": [{"id": "0190a1b2-0000-7000-8000-00000000000a", "seq": 43}]}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["clock-ahead", "push-too-large", "server-outdated",
        "op-malformed", "op-unknown", "op-too-large", "at-ahead", "id-taken", "decision-by-client", "device-not-yours", "device-ended",
        "missing-reference", "op-relied-on", "receipt-forged", "stream-full", "quota", "stream-gone"])))
)]
#[post("/streams/{stream}/ops")]
pub async fn push(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    request: HttpRequest,
    payload: web::Payload,
) -> Result<HttpResponse> {
    let stream = StreamId(*path);
    let body = whole(&request, payload).await?;
    let done = actions::push(&ctx, &who.actor(), AccountId(who.account), stream, body).await?;
    let mut text = String::with_capacity(100 + done.outcomes.len() * 64);
    let _ = write!(text, "{{\"epoch\":\"{}\",\"head\":{},\"results\":[", done.epoch, done.head);
    for (i, outcome) in done.outcomes.iter().enumerate() {
        text.push_str(if i == 0 { "" } else { "," });
        // Nearly all are accepted, and a tree of each would cost as much as taking it in.
        let _ = match outcome {
            Outcome::Accepted(id, seq) => write!(text, "{{\"id\":\"{id}\",\"seq\":{seq}}}"),
            Outcome::Refused(..) => write!(text, "{}", json!(OpResult::of(i, outcome))),
        };
    }
    text.push_str("]}");
    Ok(HttpResponse::Ok().content_type(ContentType::json()).body(text))
}

/// The body of a push, decompressed; cut off as soon as it is too long.
async fn whole(request: &HttpRequest, payload: web::Payload) -> Result<web::Bytes> {
    let mut plain = Decompress::from_headers(payload.into_inner(), request.headers());
    let mut body = Vec::new();
    while let Some(chunk) = plain.next().await {
        let chunk = chunk.map_err(|e| Problem::new(&MALFORMED).detail(format!("The body: {e}.")))?;
        if body.len() + chunk.len() > LARGEST_PUSH_BYTES {
            return Err(Problem::new(&PUSH_TOO_LARGE).detail("More than 4 MiB after decompression."));
        }
        body.extend_from_slice(&chunk);
    }
    Ok(body.into())
}

/// What a pull asks for.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct PullQuery {
    /// The epoch the caller knows.
    epoch: Uuid,
    /// The last number it holds; 0 for all.
    after: u64,
    /// The chain there, in lower-case hex; not needed after 0.
    chain: Option<String>,
    /// The most ops to answer with, up to 10,000; 1,000 if not said.
    limit: Option<u64>,
}

/// A pull.
#[utoipa::path(
    tag = "streams", operation_id = "pull_ops", summary = "Pull ops",
    description = "The ops after a number, each with who pushed it, when it was received and its receipt.",
    params(("stream" = Uuid, Path, description = "The stream"), PullQuery),
    responses((status = 200, description = "The ops", body = PulledOps, example = json!({
        "epoch": "6f1d6c7e-0d0d-4f6e-9d8e-000000000001", "head": 0, "more": false, "ops": [],
        "chain": "0000000000000000000000000000000000000000000000000000000000000000"}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["history-changed", "stream-gone"])))
)]
#[get("/streams/{stream}/ops")]
pub async fn pull(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    query: web::Query<PullQuery>,
) -> Result<HttpResponse> {
    let chain = query.chain.as_deref().map(chain_of).transpose()?;
    let ask =
        Pull { epoch: EpochId(query.epoch), after: query.after, chain, limit: query.limit.unwrap_or(1_000) };
    let text = actions::pull(&ctx, AccountId(who.account), StreamId(*path), &ask).await?;
    Ok(HttpResponse::Ok().content_type(ContentType::json()).body(text))
}

fn chain_of(text: &str) -> Result<Chain> {
    let wrong =
        || Problem::new(&MALFORMED).detail("chain is 64 lower-case hex digits").at("/chain", "not a chain");
    Chain::of_hex(text).ok_or_else(wrong)
}

/// From where on a stream is read as it grows.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct LiveQuery {
    /// The epoch the caller knows.
    epoch: Uuid,
    /// The last number it holds; 0 for all.
    after: u64,
    /// The chain there, in lower-case hex; not needed after 0.
    chain: Option<String>,
}

/// A stream as it grows.
#[utoipa::path(
    tag = "streams", operation_id = "follow_stream", summary = "Follow a stream as it grows",
    description = "Server-sent events: what is there after a number, then each op as it is accepted. An event `op` has \
        the data that a pull gives of one op, and the id `epoch/seq`; a browser that comes again sends it as \
        `Last-Event-ID`, which wins over the query. The event `end` is the last one; its data is the problem that says \
        why: another history, the right or the session is gone, or the server goes down. Lines that begin with a colon \
        are signs of life.",
    params(("stream" = Uuid, Path, description = "The stream"), LiveQuery,
        ("Last-Event-ID" = Option<String>, Header, description = "The id of the last event that came")),
    responses((status = 200, description = "The events, without an end", body = String, content_type = "text/event-stream",
        example = json!("id: 6f1d6c7e-0d0d-4f6e-9d8e-000000000001/43\nevent: op\ndata: {\"seq\":43}\n\n"))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["history-changed", "session-ended", "too-many-live",
        "server-ending", "stream-gone"])))
)]
#[get("/streams/{stream}/live")]
pub async fn live(
    FreshSession(who): FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    query: web::Query<LiveQuery>,
    request: HttpRequest,
) -> Result<HttpResponse> {
    let chain = query.chain.as_deref().map(chain_of).transpose()?;
    let mut ask = Pull { epoch: EpochId(query.epoch), after: query.after, chain, limit: 0 };
    if let Some(last) = request.headers().get("last-event-id") {
        let read = last.to_str().ok().and_then(|id| id.split_once('/'));
        let place = read.and_then(|(epoch, seq)| Some((epoch.parse().ok()?, seq.parse().ok()?)));
        let wrong = || Problem::new(&MALFORMED).detail("Last-Event-ID is epoch/seq, as an event had it.");
        let (epoch, after) = place.ok_or_else(wrong)?;
        ask = Pull { epoch, after, chain: ask.chain.filter(|_| after == ask.after), ..ask };
    }
    let live = actions::live::open(&ctx, AccountId(who.account), who.session, StreamId(*path), ask).await?;
    let events =
        unfold(live, |mut live| async move { live.next().await.map(|some| (Ok::<_, Problem>(some), live)) });
    Ok(HttpResponse::Ok()
        .content_type("text/event-stream")
        .insert_header((header::CACHE_CONTROL, "no-store"))
        // packed, an event would wait for the next ones; and some proxies wait by themselves
        .insert_header((header::CONTENT_ENCODING, "identity"))
        .insert_header(("x-accel-buffering", "no"))
        // a connection that stays open behind it would hold up a stop
        .force_close()
        .streaming(Box::pin(events)))
}

/// Everything of a stream.
#[utoipa::path(
    tag = "streams", operation_id = "export_stream", summary = "Everything of a stream",
    description = "One line an op, as a pull gives it, up to the head at the time of asking: to be kept elsewhere.",
    params(("stream" = Uuid, Path, description = "The stream")),
    responses((status = 200, description = "The lines", body = String, content_type = "application/jsonl",
        example = json!("{\"seq\":1,\"op\":{}}\n"))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["stream-gone"])))
)]
#[get("/streams/{stream}/export")]
pub async fn export(who: SignedIn, ctx: web::Data<Ctx>, path: web::Path<Uuid>) -> Result<HttpResponse> {
    let export = actions::export(&ctx, AccountId(who.account), StreamId(*path)).await?;
    Ok(HttpResponse::Ok().content_type("application/jsonl").streaming(export.lines()))
}

/// Everything in a stream as its ops fold to it: by kind of thing and by its id
///
/// The fields of a thing are those of the fold of this version of the server.
#[derive(ToSchema)]
#[schema(value_type = HashMap<String, HashMap<String, Object>>)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct StreamState(BTreeMap<String, Value>);

/// The state at head.
#[utoipa::path(
    tag = "streams", operation_id = "read_state", summary = "The state of a stream",
    description = "The canonical text (RFC 8785) of the state that all ops fold to. A client that holds the same ops \
        has the same bytes.",
    params(("stream" = Uuid, Path, description = "The stream")),
    responses((status = 200, description = "The state", body = StreamState, example = json!({"stock": {}, "tank": {}}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["stream-gone"])))
)]
#[get("/streams/{stream}/state")]
pub async fn state(who: SignedIn, ctx: web::Data<Ctx>, path: web::Path<Uuid>) -> Result<HttpResponse> {
    let stream = StreamId(*path);
    may(&ctx, AccountId(who.account), stream, Right::Read).await?;
    let (held, _) = room(&ctx, stream).await?;
    Ok(HttpResponse::Ok().content_type(ContentType::json()).body(held.memory.text()))
}

/// Every kind of op
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct OpsCatalogue {
    /// Rises with every kind or field that is added
    ops_version: u32,
    /// Rises when the same ops fold to something else
    fold_version: u32,
    /// The kinds that a helper with a link may write
    for_helpers: Vec<String>,
    kinds: Vec<OpKind>,
}

/// A kind of op
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct OpKind {
    /// The word in the field `op` of the body
    kind: String,
    area: String,
    /// `claim` for people, `decision` for the server
    written_by: String,
    /// Whether its meaning never changes
    frozen: bool,
    /// Fields whose words can be blanked
    personal: Vec<String>,
    /// A JSON Schema of the other fields of the body
    #[schema(value_type = Object)]
    fields: Value,
}

/// The catalogue.
#[utoipa::path(
    tag = "streams", operation_id = "read_catalogue", summary = "The catalogue of ops",
    description = "Every kind of op with its fields, who writes it and whether its meaning is frozen.",
    responses((status = 200, description = "The catalogue", body = OpsCatalogue, example = json!({"ops_version": 1, "fold_version": 1,
        "for_helpers": ["food.given"], "kinds": [{"kind": "food.given", "area": "rooms", "written_by": "claim", "frozen": true,
        "personal": [], "fields": {"type": "object"}}]})))
)]
#[get("/ops-catalogue")]
pub async fn catalogue() -> web::Json<Value> {
    web::Json(published())
}
