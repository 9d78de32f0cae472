//! What a steward decides before the sign-off: what is let pass, and which loss is held for unexplained.

use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::{LossJudged, QuarantineWaived};
use tarn_domain::streams::{AccountId, At, ClubId, OpId, StreamId, UnitId};

use super::sign_off::{Passed, rests_on, seat, waivers};
use super::units::{RoomUnits, unit_for};
use crate::platform::auth::FreshSession;
use crate::platform::errors::{INVALID, NOT_FOUND, Problem};
use crate::platform::{Ctx, Result, write::write};
use crate::quarantine::refusals;
use crate::streams::{self, Incoming, Path};

/// What a steward lets pass before the sign-off.
#[derive(Debug, Clone)]
pub struct Letting {
    /// Made by the caller, so that the same again is done already.
    pub id: OpId,
    /// The room.
    pub room: StreamId,
    /// The unit.
    pub unit: UnitId,
    /// What.
    pub passed: Vec<Passed>,
}

/// A loss that a steward holds for unexplained.
#[derive(Debug, Clone)]
pub struct Judgement {
    /// Made by the caller, so that the same again is done already.
    pub id: OpId,
    /// The room.
    pub room: StreamId,
    /// The unit.
    pub unit: UnitId,
    /// The entry of the loss.
    pub entry: OpId,
    /// Why.
    pub why: String,
}

/// Lets things pass, in writing. All late entries of one push may be named together.
///
/// # Errors
/// `not-found`, `not-a-steward`, `sign-off-by-party`, `invalid`.
pub async fn waive(ctx: &Ctx, who: &FreshSession, ask: &Letting) -> Result<u64> {
    let steward = AccountId(who.0.account);
    let (room, at, club) = held(ctx, steward, ask.room, ask.unit).await?;
    let waivers = waivers(&room, at, &ask.passed)?;
    if waivers.is_empty() {
        return Err(Problem::new(&INVALID)
            .detail("Nothing that is in the way was named; it may have been cleared since.")
            .at("/waivers", "Name at least one thing that is in the way."));
    }
    let unit = room.units()[at].clone();
    let body = QuarantineWaived { unit: unit.id, club, steward, waivers, relies: rests_on(&room, &unit) };
    drop(room);
    decide(ctx, who, ask.room, ask.id, club, Body::QuarantineWaived(body)).await
}

/// Holds a loss for unexplained; the days begin again from it.
///
/// # Errors
/// `not-found`, `not-a-steward`, `sign-off-by-party`, `invalid`.
pub async fn judge(ctx: &Ctx, who: &FreshSession, ask: &Judgement) -> Result<u64> {
    let steward = AccountId(who.0.account);
    let (room, at, club) = held(ctx, steward, ask.room, ask.unit).await?;
    let why = ask.why.trim().to_owned();
    if why.is_empty() || why.chars().count() > 2_000 {
        return Err(Problem::new(&INVALID)
            .detail("Say why, in at most 2,000 characters.")
            .at("/why", "Say why."));
    }
    let members = &room.units()[at].members;
    let is_loss = room.held.memory.entry(ask.entry).is_some_and(|entry| {
        let of_unit = members.iter().any(|m| entry.linked.links.changes.contains(&m.stock.into()));
        entry.linked.live && of_unit && ["stock.lost", "stock.left"].contains(&entry.kind)
    });
    if !is_loss {
        return Err(Problem::new(&NOT_FOUND));
    }
    let body = LossJudged { entry: ask.entry, club, steward, why, relies: vec![ask.entry] };
    drop(room);
    decide(ctx, who, ask.room, ask.id, club, Body::LossJudged(body)).await
}

/// The unit, for a steward who may decide about it.
async fn held(
    ctx: &Ctx,
    steward: AccountId,
    room: StreamId,
    unit: UnitId,
) -> Result<(RoomUnits, usize, ClubId)> {
    let (room, at, _) = unit_for(ctx, steward, room, unit).await?;
    let seat = seat(ctx, steward, &room, at).await?;
    let club = seat.club.ok_or_else(|| Problem::new(&refusals::NOT_A_STEWARD))?;
    if seat.is_party(steward) {
        return Err(Problem::new(&refusals::SIGN_OFF_BY_PARTY));
    }
    Ok((room, at, club))
}

async fn decide(
    ctx: &Ctx,
    who: &FreshSession,
    room: StreamId,
    id: OpId,
    club: ClubId,
    body: Body,
) -> Result<u64> {
    let steward = AccountId(who.0.account);
    write(ctx, &who.0.actor(), async |w| {
        let at = At::from_seconds(w.now.div_euclid(1000));
        let kind = body.kind();
        let incoming = Incoming { id, at: Some(at), body: body.clone() };
        let done = streams::append(w, room, vec![incoming], Path::Decision(steward)).await?;
        w.audit_of(club.0, "quarantine", format!("{kind} in room {room} by {steward}"));
        Ok(done.head)
    })
    .await
}
