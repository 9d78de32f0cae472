//! A steward's signature under a whole unit. The domain says whether; the decision goes into the room's stream.

use std::collections::BTreeSet;

use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::{
    QuarantineCleared, RuleVersion, Seen, SignOff, SignOffRefusal, Unit, may_sign,
};
use tarn_domain::rooms::Came;
use tarn_domain::state::EntityState;
use tarn_domain::streams::{AccountId, At, ClubId, Days, Entity, OpId, StockId, StreamId, UnitId};

use super::units::{RoomUnits, unit_for};
use crate::platform::auth::FreshSession;
use crate::platform::errors::{INVALID, Problem};
use crate::platform::{Ctx, Result, write::write};
use crate::quarantine::{refusals, store};
use crate::rooms;
use crate::streams::{self, Incoming, Path};

/// What a steward signs.
#[derive(Debug, Clone)]
pub struct Signature {
    /// Made by the page, so that pressing twice is once.
    pub id: OpId,
    /// The room.
    pub room: StreamId,
    /// The unit.
    pub unit: UnitId,
    /// The head that the steward's page showed.
    pub head: u64,
    /// How the fish were seen.
    pub seen: Seen,
    /// A remark.
    pub remark: Option<String>,
}

/// What was signed.
pub struct Signed {
    /// Its number in the room's stream.
    pub head: u64,
    /// How long the fish were held.
    pub held: Days,
    /// When it was signed.
    pub at: At,
}

/// Signs a unit off.
///
/// # Errors
/// `not-found`, `not-a-steward`, `sign-off-by-party`, `changed-since`, `quarantine-not-due`.
pub async fn sign_off(ctx: &Ctx, who: &FreshSession, ask: &Signature) -> Result<Signed> {
    let steward = AccountId(who.0.account);
    if ask.remark.as_ref().is_some_and(|r| r.chars().count() > 2_000) {
        return Err(Problem::new(&INVALID)
            .detail("A remark has at most 2,000 characters.")
            .at("/remark", "At most 2,000 characters."));
    }
    if let Some(done) = signed_before(ctx, steward, ask).await? {
        return Ok(done);
    }
    let (room, at, _) = unit_for(ctx, steward, ask.room, ask.unit).await?;
    if let Some(no) = in_the_way(ctx, steward, &room, at, ask.head).await? {
        return Err(refusals::told(&no));
    }
    let (unit, clubs) = (room.units[at].clone(), room.clubs[at].clone());
    let head = room.head;
    let body = decision(&room, &unit, &clubs, steward, ask)?;
    // The room is let go before the write takes it; an entry that comes in between is seen by its head.
    drop(room);
    write(ctx, &who.0.actor(), async |w| {
        // The room's state is taken before its row, as every append does.
        if streams::touch_up(w, ask.room).await?.head != head {
            return Err(Problem::new(&refusals::CHANGED_SINCE));
        }
        let at = At::from_seconds(w.now.div_euclid(1000));
        let incoming = Incoming { id: ask.id, at: Some(at), body: Body::QuarantineCleared(body.clone()) };
        let done = streams::append(w, ask.room, vec![incoming], Path::Decision(steward)).await?;
        w.audit("quarantine", format!("unit {} of room {} cleared by {steward}", ask.unit, ask.room));
        Ok(Signed { head: done.head, held: body.held, at })
    })
    .await
}

/// The first thing in the way of a steward's signature under what was read at a head.
pub async fn in_the_way(
    ctx: &Ctx,
    steward: AccountId,
    room: &RoomUnits,
    at: usize,
    head: u64,
) -> Result<Option<SignOffRefusal>> {
    let (unit, clubs) = (&room.units[at], &room.clubs[at]);
    let parties = parties(ctx, room, unit).await?;
    let stewarded = store::steward_of(&ctx.db.conn, steward).await?;
    let ask = SignOff {
        unit,
        steward,
        is_steward: !clubs.is_empty() && clubs.iter().all(|club| stewarded.contains(club)),
        parties: &parties,
        changed_since: head > room.head || room.last_touch(unit) > head,
    };
    Ok(may_sign(&ask).err())
}

/// The same signature again is done already.
async fn signed_before(ctx: &Ctx, steward: AccountId, ask: &Signature) -> Result<Option<Signed>> {
    let Ok((held, row)) = streams::room(ctx, ask.room).await else { return Ok(None) };
    let Some(EntityState::Room(facts)) = held.memory.state(Entity::ROOM).map(AsRef::as_ref) else {
        return Ok(None);
    };
    let mine =
        facts.signed.iter().find(|s| s.op == ask.id && s.says.steward == steward && s.says.unit == ask.unit);
    Ok(mine.map(|s| Signed { head: row.head, held: s.says.held, at: s.at }))
}

fn decision(
    room: &RoomUnits,
    unit: &Unit,
    clubs: &[ClubId],
    steward: AccountId,
    ask: &Signature,
) -> Result<QuarantineCleared> {
    let facts = match room.held.memory.state(Entity::ROOM).map(AsRef::as_ref) {
        Some(EntityState::Room(facts)) => facts.clone(),
        _ => Default::default(),
    };
    let opened = unit.members.iter().map(|m| m.since).min().unwrap_or(At::from_seconds(0));
    let rules = clubs
        .iter()
        .map(|club| RuleVersion {
            club: *club,
            version: facts.rule_at(*club, opened).map_or(0, |r| r.version),
        })
        .collect();
    Ok(QuarantineCleared {
        unit: unit.id,
        members: unit.members.iter().map(|m| m.stock).collect(),
        club: *clubs.first().ok_or_else(|| Problem::new(&refusals::NOT_A_STEWARD))?,
        rules,
        held: unit.done,
        steward,
        seen: ask.seen,
        remark: ask.remark.clone().filter(|r| !r.trim().is_empty()),
        waivers: Vec::new(),
        relies: unit.members.iter().map(|m| m.opened_by).collect::<BTreeSet<_>>().into_iter().collect(),
    })
}

/// Whoever keeps the room or kept it within the clock, wrote an op of the unit, or gave the fish.
async fn parties(ctx: &Ctx, room: &RoomUnits, unit: &Unit) -> Result<BTreeSet<AccountId>> {
    let conn = &ctx.db.conn;
    let opened = unit.members.iter().map(|m| m.since).min().map_or(0, At::ms);
    let keepers = rooms::store::keepers(conn, room.room).await?;
    let mut all: BTreeSet<AccountId> = keepers
        .into_iter()
        .filter(|(_, until)| until.is_none_or(|until| until >= opened))
        .map(|(id, _)| id)
        .collect();
    let memory = &room.held.memory;
    // The fish of a member may have come by way of other stocks: split off one, or put together with one.
    let mut next: Vec<StockId> = unit.members.iter().map(|m| m.stock).collect();
    let mut seen = BTreeSet::new();
    while let Some(stock) = next.pop() {
        if !seen.insert(stock) {
            continue;
        }
        let entries = memory.touching(stock.into()).filter(|e| !e.linked.decision);
        all.extend(entries.filter_map(|e| e.accepted).map(|a| a.by));
        let Some(EntityState::Stock(state)) = memory.state(stock.into()).map(AsRef::as_ref) else { continue };
        next.extend(state.joined.iter().map(|(_, from)| *from));
        match &state.came {
            Some(Came::Split { of }) => next.push(*of),
            Some(Came::Parcel { parcel }) => {
                for giver in store::givers(conn, *parcel).await? {
                    let keepers = rooms::store::keepers(conn, giver).await?;
                    all.extend(keepers.into_iter().map(|(id, _)| id));
                }
            }
            _ => {}
        }
    }
    Ok(all)
}
