//! Probes over JSON: made and ended by a room's keepers; and what a probe sends, with a token of its own.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, delete, get, post, web};
use serde::{Deserialize, Serialize};
use tarn_domain::rooms::water::reading;
use tarn_domain::rooms::words::Measure;
use tarn_domain::streams::{AccountId, LinkId, StreamId, SystemId, TankId};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::entities::room_probes;
use crate::platform::auth::{FreshSession, SignedIn};
use crate::platform::errors::{INVALID, Problem};
use crate::platform::html::{rfc3339, rfc3339_ms};
use crate::platform::web::no_content;
use crate::platform::{Ctx, Result, transport};
use crate::rooms::actions::probes::{self, MOST_AT_ONCE, Sent, Taken, Wanted};
use crate::rooms::actions::water::Which;
use crate::rooms::refusals::PROBE_OVER;

/// A probe that is to hang in a water
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Rack thermometer", "system": "0190a1b2-0000-7000-8000-00000000000c", "days": 365}))]
pub struct NewProbe {
    /// What the keeper calls it; stands beside what it writes
    name: String,
    /// In which water system
    #[serde(default)]
    system: Option<Uuid>,
    /// Or in which tank
    #[serde(default)]
    tank: Option<Uuid>,
    /// For how many days its token is good, 1 to 1,100
    days: i64,
}

/// A probe
#[derive(Serialize, ToSchema)]
pub struct Probe {
    /// Its id; what it writes has this as its `by`
    probe: Uuid,
    name: String,
    #[schema(required)]
    system: Option<Uuid>,
    #[schema(required)]
    tank: Option<Uuid>,
    made_at: String,
    until: String,
    #[schema(required)]
    ended_at: Option<String>,
    /// When it last sent something
    #[schema(required)]
    heard_at: Option<String>,
    /// Whether its token is good now
    good: bool,
    /// Told once, when it is made
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    token: Option<String>,
}

/// Every probe of a room, the newest first
#[derive(Serialize, ToSchema)]
pub struct Probes {
    probes: Vec<Probe>,
}

fn told(row: room_probes::Model, now_ms: i64, token: Option<String>) -> Probe {
    Probe {
        good: probes::is_good(&row, now_ms),
        probe: row.id,
        name: row.name,
        system: row.system,
        tank: row.tank,
        made_at: rfc3339(row.made_ms),
        until: rfc3339(row.until_ms),
        ended_at: row.ended_ms.map(rfc3339),
        heard_at: row.heard_ms.map(rfc3339),
        token,
    }
}

/// The probes of a room.
#[utoipa::path(
    tag = "rooms", operation_id = "list_probes", summary = "Probes of a room",
    description = "Every probe, the newest first, those that are over among them. For the room's keepers.",
    params(("room" = Uuid, Path, description = "The room")),
    responses((status = 200, description = "The probes", body = Probes, example = json!({"probes": [
        {"probe": "0190a1b2-0000-8000-8000-00000000000d", "name": "Rack thermometer", "system": "0190a1b2-0000-7000-8000-00000000000c",
         "tank": null, "made_at": "2026-05-01T10:00:00Z", "until": "2027-05-01T10:00:00Z", "ended_at": null,
         "heard_at": "2026-05-02T07:00:00Z", "good": true}]}))),
    security(("bearer" = []))
)]
#[get("/rooms/{room}/probes")]
pub async fn list_probes(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
) -> Result<web::Json<Probes>> {
    let all = probes::list(&ctx, AccountId(who.account), StreamId(*path)).await?;
    let now = ctx.clock.now_ms();
    Ok(web::Json(Probes { probes: all.into_iter().map(|row| told(row, now, None)).collect() }))
}

/// Makes a probe.
#[utoipa::path(
    tag = "rooms", operation_id = "add_probe", summary = "Make a probe",
    description = "Its token is told this once. It writes the readings of one water and can do nothing else: it reads \
        nothing, not even what it wrote. Name a system or a tank.",
    params(("room" = Uuid, Path, description = "The room")), request_body = NewProbe,
    responses((status = 201, description = "The probe, and its token", body = Probe, example = json!({
        "probe": "0190a1b2-0000-8000-8000-00000000000d", "name": "Rack thermometer", "system": "0190a1b2-0000-7000-8000-00000000000c",
        "tank": null, "made_at": "2026-05-01T10:00:00Z", "until": "2027-05-01T10:00:00Z", "ended_at": null,
        "heard_at": null, "good": true, "token": "Zk3…"}))),
    security(("bearer" = [])), extensions(("x-problems" = json!(["session-ended", "invalid"])))
)]
#[post("/rooms/{room}/probes")]
pub async fn add_probe(
    who: FreshSession,
    ctx: web::Data<Ctx>,
    path: web::Path<Uuid>,
    body: web::Json<NewProbe>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(who.0.account), StreamId(*path));
    let water = match (body.system, body.tank) {
        (Some(system), None) => Some(Which::System(SystemId(system))),
        (None, Some(tank)) => Some(Which::Tank(TankId(tank))),
        _ => None,
    };
    let wanted = Wanted { name: &body.name, water, days: body.days };
    let made = probes::add(&ctx, &who.0.actor(), account, room, wanted).await?;
    let answer = told(made.probe, ctx.clock.now_ms(), Some(made.token));
    Ok(HttpResponse::Created().insert_header((header::CACHE_CONTROL, "no-store")).json(answer))
}

/// Ends a probe.
#[utoipa::path(
    tag = "rooms", operation_id = "end_probe", summary = "End a probe's token",
    description = "At once. What it wrote stands.",
    params(("room" = Uuid, Path, description = "The room"), ("probe" = Uuid, Path, description = "The probe's id")),
    responses((status = 204, description = "It is good no more")), security(("bearer" = []))
)]
#[delete("/rooms/{room}/probes/{probe}")]
pub async fn end_probe(
    who: SignedIn,
    ctx: web::Data<Ctx>,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(who.account), StreamId(path.0));
    probes::end(&ctx, &who.actor(), account, room, LinkId(path.1)).await?;
    no_content()
}

/// What a probe has measured
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"readings": [{"at": "2026-05-02T07:00:00Z", "what": "temperature", "value": "25.31 C"}]}))]
pub struct ProbeReadings {
    /// At most 1,000
    readings: Vec<ProbeReading>,
}

/// One value
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProbeReading {
    /// When it was measured; left out: now. Of the last 30 days, and of each measure newer than what was sent before
    #[serde(default)]
    at: Option<String>,
    /// `temperature`, `ph`, `ammonia`, `nitrite`, `nitrate`, `gh`, `kh`, `conductivity` or `salinity`
    what: String,
    /// The number with its unit, as `tarn water read` takes it: `25.31 C`, `77.6 F`, `7.21`, `430 us/cm`
    value: String,
}

/// What became of readings
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"counted": 1, "known": 0}))]
pub struct ReadingsTaken {
    /// How many count
    counted: u64,
    /// How many are not newer than the newest of their measure, or more than an hour holds: they change nothing
    known: u64,
}

/// Takes readings.
#[utoipa::path(
    tag = "rooms", operation_id = "send_readings", summary = "Send readings as a probe",
    description = "With the probe's token in place of an access token. Readings are thinned: what is kept is each hour's \
        least, mean and most, which the room's keepers read a little after the hour has ended. Sending the same again \
        changes nothing.",
    request_body = ProbeReadings,
    responses((status = 200, description = "Taken", body = ReadingsTaken, example = json!({"counted": 1, "known": 0}))),
    security(("probe" = [])), extensions(("x-problems" = json!(["probe-over", "invalid", "link-quota", "too-many-tries"])))
)]
#[post("/probe/readings")]
pub async fn send_readings(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    body: web::Json<ProbeReadings>,
) -> Result<web::Json<ReadingsTaken>> {
    let address = transport::visitor_address(&req, &ctx.config);
    let sent = req.headers().get(header::AUTHORIZATION).and_then(|value| value.to_str().ok());
    let token = sent.and_then(|value| value.split_once(' '));
    let token = token.filter(|(scheme, _)| scheme.eq_ignore_ascii_case("bearer"));
    let (_, token) = token.ok_or_else(|| Problem::new(&PROBE_OVER))?;
    let probe = probes::open(&ctx, token.trim(), address).await?;
    let Taken { counted, known } = probes::take(&ctx, probe, &read(&body.readings)?).await?;
    Ok(web::Json(ReadingsTaken { counted, known }))
}

fn read(readings: &[ProbeReading]) -> Result<Vec<Sent>> {
    let mut problem = Problem::new(&INVALID).detail("The readings were not taken");
    if readings.len() > MOST_AT_ONCE {
        return Err(problem.at("/readings", format!("At most {MOST_AT_ONCE} at once.")));
    }
    let mut all = Vec::with_capacity(readings.len());
    for (n, sent) in readings.iter().enumerate() {
        let mut wrong = |field: &str, why: String| {
            problem = std::mem::replace(&mut problem, Problem::new(&INVALID))
                .at(&format!("/readings/{n}/{field}"), why);
        };
        let at_ms = sent.at.as_deref().map(rfc3339_ms);
        if at_ms == Some(None) {
            wrong("at", "Write a time as 2026-05-02T07:00:00Z.".into());
        }
        let what = sent.what.parse::<Measure>();
        let value = match &what {
            Ok(what) => reading(*what, &sent.value).map_err(|no| wrong("value", format!("{no}."))).ok(),
            Err(_) => {
                let known = Measure::ALL.iter().map(|what| what.word()).collect::<Vec<_>>().join(", ");
                wrong("what", format!("Say what was measured: {known}."));
                None
            }
        };
        all.extend(value.map(|value| Sent { what: value.what, milli: value.milli, at_ms: at_ms.flatten() }));
    }
    if problem.faults().is_empty() { Ok(all) } else { Err(problem) }
}
