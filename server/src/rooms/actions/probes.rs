//! Probes in a water: made and ended by keepers; what they send is added up, and written into the room hour by hour. A
//! token writes the readings of one water and reads nothing.

use std::net::IpAddr;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::WaterLogged;
use tarn_domain::rooms::water::hour::{HOUR_MS, Hour, hour_of};
use tarn_domain::rooms::words::Measure;
use tarn_domain::streams::{AccountId, At, LinkId, OpId, StreamId, SystemId, TankId};

use super::water::Which;
use crate::accounts::actions::wrong_secret;
use crate::accounts::store::secret_hash;
use crate::entities::{probe_hours, room_probes};
use crate::platform::errors::{INVALID, NOT_FOUND, Problem};
use crate::platform::{Ctx, Result, actor::Actor, write::Write, write::write};
use crate::rooms::actions::DAY_MS;
use crate::rooms::actions::read::kept;
use crate::rooms::refusals::{LINK_QUOTA, PROBE_OVER};
use crate::rooms::store::{self, probes};
use crate::streams::{self, Incoming, Path};

/// The longest that a token is good for.
pub const MOST_DAYS: i64 = 1_100;
/// The most readings in one request.
pub const MOST_AT_ONCE: usize = 1_000;
/// How many readings a probe sends in a day: one in a second.
const MOST_A_DAY: i64 = 86_400;
/// How old a reading may be that a probe kept to itself.
const OLDEST_MS: i64 = 30 * DAY_MS;
/// How far ahead a probe's clock may be.
const AHEAD_MS: i64 = 5 * 60_000;
/// How long after its end an hour is written: a probe may send what it measured a little later.
const WAITS_MS: i64 = 10 * 60_000;

/// Whether a token is good now.
pub fn is_good(probe: &room_probes::Model, now_ms: i64) -> bool {
    probe.ended_ms.is_none() && now_ms < probe.until_ms
}

/// What a keeper says of a new probe.
pub struct Wanted<'a> {
    /// What it is called.
    pub name: &'a str,
    /// In which water it hangs.
    pub water: Option<Which>,
    /// For how many days its token is good.
    pub days: i64,
}

/// A probe that was just made.
pub struct Made {
    /// The probe.
    pub probe: room_probes::Model,
    /// Its token, told this once.
    pub token: String,
}

/// Makes a probe, with a token of its own.
///
/// # Errors
/// `not-found` for who does not keep the room, `invalid`.
pub async fn add(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    room: StreamId,
    wanted: Wanted<'_>,
) -> Result<Made> {
    let (name, days) = (wanted.name.trim(), wanted.days);
    let (look, ()) = kept(ctx, account, room, |_| ()).await?;
    let mut problem = Problem::new(&INVALID).detail("The probe was not made");
    if name.is_empty() || name.chars().count() > 80 || name.chars().any(char::is_control) {
        problem = problem.at("/name", "Say what it is called, in 1 to 80 letters.");
    }
    if !(1..=MOST_DAYS).contains(&days) {
        problem = problem.at("/days", format!("Write a number of days from 1 to {MOST_DAYS}."));
    }
    let states = look.states();
    let (system, tank) = match wanted.water {
        Some(Which::System(id)) if states.systems.contains_key(&id) => (Some(id.0), None),
        Some(Which::Tank(id)) if states.tanks.contains_key(&id) => (None, Some(id.0)),
        _ => {
            problem = problem.at("/water", "Say in which water of this room it hangs.");
            (None, None)
        }
    };
    drop(states);
    if !problem.faults().is_empty() {
        return Err(problem);
    }
    let token = URL_SAFE_NO_PAD.encode(ctx.ids.bytes::<32>());
    let id = LinkId::of_bytes(ctx.ids.bytes());
    let probe = write(ctx, actor, async |w| {
        if !store::is_keeper(w.tx(), room, account).await? {
            return Err(Problem::new(&NOT_FOUND));
        }
        let probe = room_probes::Model {
            id: id.0,
            room: room.0,
            name: name.to_owned(),
            system,
            tank,
            hash: secret_hash(&token),
            made_by: account.0,
            made_ms: w.now,
            until_ms: w.now + days * DAY_MS,
            ended_ms: None,
            heard_ms: None,
            day: 0,
            n: 0,
        };
        probes::insert(w.tx(), probe.clone()).await?;
        w.audit("rooms", format!("a probe {id} in room {room} made by {account}"));
        Ok(probe)
    })
    .await?;
    Ok(Made { probe, token })
}

/// The probes of a room.
///
/// # Errors
/// `not-found` for who does not keep the room.
pub async fn list(ctx: &Ctx, account: AccountId, room: StreamId) -> Result<Vec<room_probes::Model>> {
    if !store::is_keeper(&ctx.db.conn, room, account).await? {
        return Err(Problem::new(&NOT_FOUND));
    }
    probes::all(&ctx.db.conn, room).await
}

/// Ends a probe's token at once. What it said in the hour that runs is still written.
///
/// # Errors
/// `not-found` for who does not keep the room, and for a probe that is not there.
pub async fn end(ctx: &Ctx, actor: &Actor, account: AccountId, room: StreamId, probe: LinkId) -> Result<()> {
    write(ctx, actor, async |w| {
        let nothing = || Problem::new(&NOT_FOUND);
        if !store::is_keeper(w.tx(), room, account).await? {
            return Err(nothing());
        }
        let found = probes::locked(w.tx(), probe).await?.filter(|row| row.room == room.0);
        let mut row = found.ok_or_else(nothing)?;
        if row.ended_ms.is_none() {
            row.ended_ms = Some(w.now);
            probes::save(w.tx(), row).await?;
            w.audit("rooms", format!("a probe {probe} in room {room} ended by {account}"));
        }
        Ok(())
    })
    .await
}

/// One reading, as a probe sends it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sent {
    /// What was measured.
    pub what: Measure,
    /// The value, in thousandths.
    pub milli: i64,
    /// When; none: now.
    pub at_ms: Option<i64>,
}

/// What became of readings.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Taken {
    /// Those that count.
    pub counted: u64,
    /// Those that are not newer than the newest of their measure: they were sent before, or too late.
    pub known: u64,
}

/// The probe that has this token.
///
/// # Errors
/// `probe-over` for one that is over and one that never was, alike; `too-many-tries` for who tries many.
pub async fn open(ctx: &Ctx, token: &str, address: IpAddr) -> Result<LinkId> {
    let found = probes::by_hash(&ctx.db.conn, &secret_hash(token)).await?;
    let now = ctx.clock.now_ms();
    match found.filter(|probe| is_good(probe, now)) {
        Some(probe) => Ok(LinkId(probe.id)),
        None => {
            wrong_secret(ctx, address)?;
            Err(Problem::new(&PROBE_OVER))
        }
    }
}

/// Adds readings up. The same readings again count once: of each measure only what is newer than the newest is taken.
///
/// # Errors
/// `probe-over`, `link-quota`, `invalid`.
pub async fn take(ctx: &Ctx, probe: LinkId, sent: &[Sent]) -> Result<Taken> {
    write(ctx, &Actor::Server, async |w| {
        let row = probes::locked(w.tx(), probe).await?.filter(|row| is_good(row, w.now));
        let mut row = row.ok_or_else(|| Problem::new(&PROBE_OVER))?;
        let day = w.now.div_euclid(DAY_MS);
        let n = if row.day == day { row.n } else { 0 };
        row.day = day;
        row.n = n.saturating_add(i64::try_from(sent.len()).unwrap_or(i64::MAX));
        if row.n > MOST_A_DAY {
            return Err(Problem::new(&LINK_QUOTA));
        }
        let mut readings = timed(sent, w.now)?;
        readings.sort_by_key(|(at_ms, _)| *at_ms);
        row.heard_ms = Some(w.now);
        probes::save(w.tx(), row.clone()).await?;
        let mut hours = probes::hours(w.tx(), probe).await?;
        let mut taken = Taken::default();
        for (at_ms, reading) in readings {
            let hour = hour_of(at_ms);
            write_hours(w, &row, &mut hours, hour).await?;
            if add_up(&mut hours, row.id, (at_ms, hour), reading) {
                taken.counted += 1;
            } else {
                taken.known += 1;
            }
        }
        for hour in hours {
            probes::save_hour(w.tx(), hour).await?;
        }
        Ok(taken)
    })
    .await
}

fn timed(sent: &[Sent], now: i64) -> Result<Vec<(i64, &Sent)>> {
    let mut problem = Problem::new(&INVALID).detail("The readings were not taken");
    let mut all = Vec::with_capacity(sent.len());
    for (n, reading) in sent.iter().enumerate() {
        let at_ms = reading.at_ms.unwrap_or(now);
        if at_ms > now + AHEAD_MS || at_ms < now - OLDEST_MS {
            let why = "A reading is of the last 30 days, and at most 5 minutes ahead: set the probe's clock.";
            problem = problem.at(&format!("/readings/{n}/at"), why);
        }
        // a clock that is a little ahead must not make an hour that has not begun
        all.push((at_ms.min(now), reading));
    }
    if problem.faults().is_empty() { Ok(all) } else { Err(problem) }
}

/// Whether a reading counts.
fn add_up(
    hours: &mut Vec<probe_hours::Model>,
    probe: uuid::Uuid,
    (at_ms, hour): (i64, i64),
    reading: &Sent,
) -> bool {
    let what = reading.what.word();
    let Some(row) = hours.iter_mut().find(|row| row.what == what) else {
        let row = probe_hours::Model {
            probe,
            what: what.to_owned(),
            last_ms: at_ms,
            hour,
            n: 1,
            sum: reading.milli,
            least: reading.milli,
            most: reading.milli,
        };
        hours.push(row);
        return true;
    };
    if at_ms <= row.last_ms {
        return false;
    }
    let there = Hour { n: row.n, sum: row.sum, least: row.least, most: row.most };
    let next = if row.n > 0 { there.and(reading.milli) } else { Some(Hour::of(reading.milli)) };
    let Some(next) = next else { return false };
    (row.n, row.sum, row.least, row.most) = (next.n, next.sum, next.least, next.most);
    (row.last_ms, row.hour) = (at_ms, hour);
    true
}

/// Writes what a probe said in hours before this one into its room, and empties them.
async fn write_hours(
    w: &mut Write,
    probe: &room_probes::Model,
    hours: &mut [probe_hours::Model],
    before: i64,
) -> Result<()> {
    loop {
        let due = hours.iter().filter(|row| row.n > 0 && row.hour < before).map(|row| row.hour).min();
        let Some(hour) = due else { return Ok(()) };
        let mut values = Vec::new();
        for row in hours.iter_mut().filter(|row| row.n > 0 && row.hour == hour) {
            let sums = Hour { n: row.n, sum: row.sum, least: row.least, most: row.most };
            values.extend(row.what.parse::<Measure>().ok().map(|what| sums.reading(what)));
            row.n = 0;
        }
        values.sort_by_key(|value| value.what);
        let body = Body::WaterLogged(WaterLogged {
            system: probe.system.map(SystemId),
            tank: probe.tank.map(TankId),
            over_s: 3_600,
            values,
        });
        let at = Some(At::from_seconds(hour.saturating_mul(HOUR_MS / 1_000)));
        let incoming = Incoming { id: OpId(w.ctx().ids.new_id(w.now)), at, body };
        let path = Path::Probe(LinkId(probe.id));
        if let Err(no) = streams::append(w, StreamId(probe.room), vec![incoming], path).await {
            // its water was taken back out of the records: there is nothing that the readings are of
            if no.kind().status >= 500 {
                return Err(no);
            }
            tracing::warn!(kind = no.kind().code, "an hour of a probe was not written");
        }
    }
}

/// Writes the hours of one probe that have ended.
pub async fn write_ended(w: &mut Write, probe: LinkId) -> Result<()> {
    let Some(row) = probes::locked(w.tx(), probe).await? else { return Ok(()) };
    let mut hours = probes::hours(w.tx(), probe).await?;
    let before = hour_of(w.now - WAITS_MS);
    write_hours(w, &row, &mut hours, before).await?;
    for hour in hours {
        probes::save_hour(w.tx(), hour).await?;
    }
    Ok(())
}

/// The probes that have said something in hours that have ended.
pub async fn ended(w: &Write) -> Result<Vec<uuid::Uuid>> {
    probes::with_hours_before(w.tx(), hour_of(w.now - WAITS_MS)).await
}
