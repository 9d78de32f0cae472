//! Units as their pages read them: for keepers, and for stewards only what a steward needs.

use std::collections::BTreeSet;

use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::{SharedWater, SignedOff, Unit, words};
use tarn_domain::state::{Blocker, Entry, Memory, RoomStates, view};
use tarn_domain::streams::{AccountId, At, ClubId, Days, Entity, OpId, StockId, StreamId, SystemId, UnitId};

use super::record::{self, Record};
use super::sign_off::signature;
use super::units::{Looked, compute, unit_for};
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::{Ctx, Result};
use crate::quarantine::store;
use crate::rooms;
use crate::rooms::actions::read::{Look, Traces, look};

/// A unit, and what was recorded of it.
pub struct UnitLook {
    /// Its room.
    pub look: Look,
    /// The unit.
    pub unit: Unit,
    /// What is in its way.
    pub blockers: Vec<Blocker>,
    /// The home clubs the room had since it was opened.
    pub clubs: Vec<ClubId>,
    /// Who looks.
    pub looked: Looked,
    /// The entries that are spoken of.
    pub traces: Traces,
    /// Those about the unit and its water since it was opened, the newest first.
    pub entries: Vec<OpId>,
    /// Those among which the newest readings of its water are.
    pub water: Vec<OpId>,
}

impl UnitLook {
    /// What was recorded in the days that count.
    pub fn record(&self) -> Record {
        let states = self.look.states();
        let stocks: Vec<_> =
            self.unit.members.iter().filter_map(|m| states.stocks.get(&m.stock).copied()).collect();
        let from = match self.unit.shared_water {
            SharedWater::Restart => self.unit.start,
            // Each has days of its own; the first to begin are the longest.
            SharedWater::WaitForLast => {
                self.unit.start.and(self.unit.members.iter().map(|member| member.start).min())
            }
        };
        let from = from.unwrap_or_else(|| opened(&self.unit));
        let none = BTreeSet::new();
        let judged = states.facts.map_or(&none, |facts| &facts.judged);
        record::of(&self.entries, &self.traces, &stocks, judged, (from, self.look.now()))
    }
}

impl UnitLook {
    /// A club's signature under the unit as it is.
    pub fn signature(&self, club: ClubId) -> Option<&SignedOff> {
        signature(self.look.states().facts?, &self.look.quarantine, &self.unit, club)
    }
}

/// When the first of a unit's members was opened.
pub fn opened(unit: &Unit) -> At {
    unit.members.iter().map(|m| m.since).min().unwrap_or(At::from_seconds(0))
}

/// Whether the account keeps the room, and the clubs of which it is a steward; a stranger learns nothing.
async fn standing(ctx: &Ctx, account: AccountId, room: StreamId) -> Result<(bool, Vec<ClubId>)> {
    let keeper = rooms::store::is_keeper(&ctx.db.conn, room, account).await?;
    let stewarded = store::steward_of(&ctx.db.conn, account).await?;
    if keeper || !stewarded.is_empty() {
        return Ok((keeper, stewarded));
    }
    Err(Problem::new(&NOT_FOUND))
}

/// One unit, for its keeper or a steward of its clubs.
///
/// # Errors
/// `not-found` for everybody else, and for a unit that is no longer there.
pub async fn unit(ctx: &Ctx, account: AccountId, room: StreamId, id: UnitId) -> Result<UnitLook> {
    let nothing = || Problem::new(&NOT_FOUND);
    let (keeper, stewarded) = standing(ctx, account, room).await?;
    let now = At::from_seconds(ctx.clock.now_ms().div_euclid(1000));
    let (look, found) = look(ctx, room, |memory| copy(memory, id, now)).await?;
    let (unit, clubs, mut traces, entries, water) = found.ok_or_else(nothing)?;
    let looked = if keeper { Looked::Keeper } else { Looked::Steward };
    if !keeper && !clubs.iter().any(|club| stewarded.contains(club)) {
        // A steward of another club, where the own has none who is free.
        unit_for(ctx, account, room, id).await?;
    }
    traces.fetch(ctx, room).await?;
    let at = look.quarantine.units().iter().position(|unit| unit.id == id).ok_or_else(nothing)?;
    let blockers = look.quarantine.blockers[at].clone();
    let mut found = UnitLook { look, unit, blockers, clubs, looked, traces, entries, water };
    if looked == Looked::Steward {
        let traces = &found.traces;
        found
            .entries
            .retain(|op| traces.get(*op).and_then(|t| t.body.as_deref()).is_some_and(is_for_stewards));
    }
    Ok(found)
}

type Copied = (Unit, Vec<ClubId>, Traces, Vec<OpId>, Vec<OpId>);

fn copy(memory: &Memory, id: UnitId, now: At) -> Option<Copied> {
    let (quarantine, clubs) = compute(memory, now);
    let at = quarantine.units().iter().position(|unit| unit.id == id)?;
    let (unit, clubs) = (quarantine.units()[at].clone(), clubs.into_iter().nth(at)?);
    let states = view(memory.states());
    let mut traces = Traces::default();
    let stocks: Vec<StockId> = unit.members.iter().map(|m| m.stock).collect();
    let told = record::entries(memory, &states, &stocks, opened(&unit));
    let blocking = quarantine.blockers[at].iter().flat_map(|blocker| match blocker {
        Blocker::Withdrawn { op, by, .. } => [Some(*op), Some(*by)],
        other => [other.entry(), None],
    });
    let recalling = unit.recalled.and_then(|op| quarantine.recalled.get(&op));
    let blocking = blocking.flatten().chain(recalling.into_iter().flatten().copied());
    let blocking = blocking.filter_map(|op| memory.entry(op));
    let mut told: Vec<&Entry> =
        told.into_iter().chain(of_waters(memory, &states, &unit)).chain(blocking).collect();
    told.sort_unstable_by_key(|entry| std::cmp::Reverse(entry.linked.order));
    told.dedup_by_key(|entry| entry.linked.order.id);
    let entries = told.into_iter().map(|entry| traces.take(memory, entry)).collect();
    for made in stocks.iter().filter_map(|stock| states.stocks.get(stock)?.made) {
        if let Some(entry) = memory.entry(made) {
            traces.take(memory, entry);
        }
    }
    let tanks: BTreeSet<_> =
        stocks.iter().filter_map(|stock| states.stocks.get(stock)?.place().flatten()).collect();
    let systems: BTreeSet<_> = tanks.iter().filter_map(|tank| states.tanks.get(tank)?.system()).collect();
    let mut water: Vec<OpId> = systems
        .iter()
        .flat_map(|system| rooms::views::readings_of(memory, &states, *system, &mut traces))
        .collect();
    if water.is_empty() {
        let logs = tanks.iter().flat_map(|tank| memory.logging((*tank).into()));
        let newest = rooms::views::newest(logs, 100);
        water = newest.into_iter().map(|entry| traces.take(memory, entry)).collect();
    }
    Some((unit, clubs, traces, entries, water))
}

/// What was written of a unit's tanks, their systems and the treatments of both since it was opened.
fn of_waters<'a>(memory: &'a Memory, states: &RoomStates<'_>, unit: &Unit) -> Vec<&'a Entry> {
    let systems: BTreeSet<SystemId> =
        unit.tanks.iter().filter_map(|tank| states.tanks.get(tank)?.system()).collect();
    let treated = states.treatments.iter().filter(|(_, t)| {
        t.system.is_some_and(|id| systems.contains(&id)) || t.tank.is_some_and(|id| unit.tanks.contains(&id))
    });
    let treated = treated.map(|(id, _)| Entity::from(*id));
    let tanks = unit.tanks.iter().map(|tank| Entity::from(*tank));
    let things: BTreeSet<Entity> =
        systems.iter().map(|id| Entity::from(*id)).chain(tanks).chain(treated).collect();
    let since = opened(unit);
    let decided = memory.touching(Entity::ROOM).filter(|entry| match entry.body.as_deref() {
        Some(Body::QuarantineWaived(b)) => b.unit == unit.id,
        Some(Body::LossJudged(b)) => judged(memory, unit, b.entry),
        _ => false,
    });
    let all = things.into_iter().flat_map(|thing| memory.touching(thing)).chain(decided);
    all.filter(|entry| entry.linked.order.at >= since).collect()
}

/// Whether a loss is one of a unit's stocks.
fn judged(memory: &Memory, unit: &Unit, loss: OpId) -> bool {
    let changes = memory.entry(loss).map(|entry| &entry.linked.links.changes);
    changes.is_some_and(|changes| unit.members.iter().any(|m| changes.contains(&m.stock.into())))
}

/// Whether a steward needs an entry: fish, water, signs and looks, but neither notes nor food.
fn is_for_stewards(body: &Body) -> bool {
    !matches!(body, Body::NoteWritten(_) | Body::FoodGiven(_))
}

/// The rooms whose units an account may sign off: of the clubs of which it is a steward, unless it keeps them.
pub async fn rooms_to_sign(ctx: &Ctx, account: AccountId) -> Result<BTreeSet<StreamId>> {
    let mut all = BTreeSet::new();
    for club in store::steward_of(&ctx.db.conn, account).await? {
        let rooms = rooms::store::rooms_of_club(&ctx.db.conn, club).await?;
        all.extend(rooms.iter().map(|room| StreamId(room.stream)));
    }
    if !all.is_empty() || !store::steward_of(&ctx.db.conn, account).await?.is_empty() {
        // Where a club has no steward at all, one of another club here may sign.
        for club in store::clubs_without_steward(&ctx.db.conn).await? {
            let rooms = rooms::store::rooms_of_club(&ctx.db.conn, club).await?;
            all.extend(rooms.iter().map(|room| StreamId(room.stream)));
        }
    }
    for own in rooms::store::rooms_of(&ctx.db.conn, account).await? {
        all.remove(&StreamId(own.stream));
    }
    Ok(all)
}

/// A unit that was signed off.
pub struct SignedLook {
    /// Its room.
    pub look: Look,
    /// The signature.
    pub signed: SignedOff,
    /// The exact words that stand.
    pub words: String,
    /// The entries that it lets pass, among others.
    pub traces: Traces,
}

/// The latest sign-off of a unit, for its keeper, its steward, or a steward of the club.
///
/// # Errors
/// `not-found` for everybody else, and if it was never signed off.
pub async fn signed(ctx: &Ctx, account: AccountId, room: StreamId, id: UnitId) -> Result<SignedLook> {
    let nothing = || Problem::new(&NOT_FOUND);
    let (keeper, stewarded) = standing(ctx, account, room).await?;
    let (look, found) = look(ctx, room, |memory| copy_signed(memory, id)).await?;
    let (signed, mut traces, entries) = found.ok_or_else(nothing)?;
    let of_club = |club: &ClubId| *club == signed.says.club || Some(*club) == signed.says.steward_club;
    if !keeper && !stewarded.iter().any(of_club) && signed.says.steward != account {
        return Err(nothing());
    }
    traces.fetch(ctx, room).await?;
    let from = held_from(&signed);
    let signs = record::of(&entries, &traces, &[], &BTreeSet::new(), (from, signed.at)).signs.len();
    let words = words(signed.says.held, signs, &look.wall.date(signed.at.seconds()));
    Ok(SignedLook { look, signed, words, traces })
}

fn held_from(signed: &SignedOff) -> At {
    let Days(days) = signed.says.held;
    signed.says.start.unwrap_or(At::from_seconds(signed.at.seconds() - i64::from(days) * 86_400))
}

fn copy_signed(memory: &Memory, id: UnitId) -> Option<(SignedOff, Traces, Vec<OpId>)> {
    let facts = memory.facts()?;
    let signed = facts.signed.iter().rfind(|signed| signed.says.unit == id)?.clone();
    let states = view(memory.states());
    let mut traces = Traces::default();
    let entries = record::entries(memory, &states, &signed.says.members, held_from(&signed));
    let logs = entries.into_iter().filter(|entry| entry.linked.links.log);
    let entries = logs.map(|entry| traces.take(memory, entry)).collect();
    for entry in signed.says.waivers.iter().filter_map(|waiver| memory.entry(waiver.entry?)) {
        traces.take(memory, entry);
    }
    Some((signed, traces, entries))
}
