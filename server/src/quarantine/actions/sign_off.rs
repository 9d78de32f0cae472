//! A steward's signature under a whole unit. The domain says whether; the decision goes into the room's stream.

use std::collections::BTreeSet;

use tarn_domain::catalogue::Body;
use tarn_domain::quarantine::{
    QuarantineCleared, RoomFacts, RuleVersion, Seen, SignOff, SignOffRefusal, SignedOff, Unit, Waiver,
    may_sign,
};
use tarn_domain::rooms::Came;
use tarn_domain::state::{Blocker, Quarantine, view};
use tarn_domain::streams::{AccountId, At, ClubId, Days, OpId, StockId, StreamId, UnitId};

use super::read::opened as opened_at;
use super::record;
use super::units::{RoomUnits, unit_for};
use crate::platform::auth::FreshSession;
use crate::platform::errors::{INVALID, Problem};
use crate::platform::{Ctx, Result, write::write};
use crate::quarantine::{refusals, store};
use crate::rooms;
use crate::streams::{self, Incoming, Path};

/// The most letters of a remark or reason.
const MOST_LETTERS: usize = 2_000;

/// Something that a steward lets pass.
#[derive(Debug, Clone)]
pub struct Passed {
    /// What the page or answer called it.
    pub key: String,
    /// Why it does not matter.
    pub why: String,
}

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
    /// What is let pass with it.
    pub passed: Vec<Passed>,
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

/// Signs a unit off. Where several clubs have a say, each of them has to sign; the unit is free with the last.
///
/// # Errors
/// `not-found`, `not-a-steward`, `sign-off-by-party`, `changed-since`, `quarantine-not-due`, `quarantine-blocked`.
pub async fn sign_off(ctx: &Ctx, who: &FreshSession, ask: &Signature) -> Result<Signed> {
    let steward = AccountId(who.0.account);
    if ask.remark.as_ref().is_some_and(|r| r.chars().count() > MOST_LETTERS) {
        return Err(Problem::new(&INVALID)
            .detail("A remark has at most 2,000 characters.")
            .at("/remark", "At most 2,000 characters."));
    }
    if let Some(done) = signed_before(ctx, steward, ask).await? {
        return Ok(done);
    }
    let (room, at, _) = unit_for(ctx, steward, ask.room, ask.unit).await?;
    let seat = seat(ctx, steward, &room, at).await?;
    let waivers = waivers(&room, at, &ask.passed)?;
    if let Some(no) = refusal(&room, at, steward, &seat, (ask.head, waivers.len())) {
        let keys: Vec<String> = room.quarantine.blockers[at].iter().map(Blocker::key).collect();
        return Err(refusals::told(&no).with("blockers", keys));
    }
    let head = room.head;
    let body = decision(&room, at, seat, steward, ask, waivers)?;
    // The room is let go before the write takes it; an entry that comes in between is seen by its head.
    drop(room);
    write(ctx, &who.0.actor(), async |w| {
        // The room's state is taken before its row, as every append does.
        if streams::touch_up(w, ask.room).await?.head != head {
            return Err(Problem::new(&refusals::CHANGED_SINCE));
        }
        let at = At::from_seconds(w.now.div_euclid(1000));
        let mut body = body.clone();
        // A gap that still runs is let pass up to the signature.
        body.waivers.iter_mut().for_each(|waiver| waiver.until = waiver.until.map(|until| until.max(at)));
        let (held, club) = (body.held, body.club);
        let incoming = Incoming { id: ask.id, at: Some(at), body: Body::QuarantineCleared(body) };
        let done = streams::append(w, ask.room, vec![incoming], Path::Decision(steward)).await?;
        let fact = format!("unit {} of room {} cleared by {steward}", ask.unit, ask.room);
        w.audit_of(club.0, "quarantine", fact);
        Ok(Signed { head: done.head, held, at })
    })
    .await
}

/// For whom a steward signs.
pub struct Seat {
    /// The club whose signature it is; none: they are no steward here.
    pub club: Option<ClubId>,
    /// Of which other club they are, if the room's own has no steward who is free.
    pub of_club: Option<ClubId>,
    parties: BTreeSet<AccountId>,
}

impl Seat {
    /// Whether an account is a party to the unit.
    pub fn is_party(&self, account: AccountId) -> bool {
        self.parties.contains(&account)
    }
}

/// For which club an account may sign a unit: one of the unit's that has not signed yet; or, where that has no
/// steward who is free, as steward of another club here.
pub async fn seat(ctx: &Ctx, account: AccountId, room: &RoomUnits, at: usize) -> Result<Seat> {
    let unit = &room.units()[at];
    let parties = parties(ctx, room, unit).await?;
    let stewarded = store::steward_of(&ctx.db.conn, account).await?;
    let missing = missing(room, at);
    if let Some(club) = missing.iter().find(|club| stewarded.contains(club)) {
        return Ok(Seat { club: Some(*club), of_club: None, parties });
    }
    if let Some(&of_club) = stewarded.first() {
        for club in missing {
            let free = store::stewards_in(&ctx.db.conn, club).await?;
            if free.iter().all(|steward| parties.contains(steward)) {
                return Ok(Seat { club: Some(club), of_club: Some(of_club), parties });
            }
        }
    }
    Ok(Seat { club: None, of_club: None, parties })
}

/// The clubs that have a say in a unit and have not signed for it as it is.
pub fn missing(room: &RoomUnits, at: usize) -> Vec<ClubId> {
    let clubs = room.clubs[at].iter().copied();
    let Some(facts) = room.held.memory.facts() else { return clubs.collect() };
    clubs.filter(|club| signature(facts, &room.quarantine, &room.units()[at], *club).is_none()).collect()
}

/// A club's signature under a unit as it is.
pub fn signature<'a>(
    facts: &'a RoomFacts,
    quarantine: &Quarantine,
    unit: &Unit,
    club: ClubId,
) -> Option<&'a SignedOff> {
    let members: BTreeSet<StockId> = unit.members.iter().map(|m| m.stock).collect();
    let since = unit.members.iter().map(|m| m.start.max(m.since)).max();
    facts.signed.iter().rfind(|signed| {
        signed.says.club == club
            && since.is_none_or(|since| signed.at >= since)
            && !quarantine.recalled.contains_key(&signed.op)
            && signed.says.members.iter().copied().collect::<BTreeSet<_>>() == members
    })
}

/// The first thing in the way of a steward's signature under what was read at a head, if so many blockers are let
/// pass.
pub fn refusal(
    room: &RoomUnits,
    at: usize,
    steward: AccountId,
    seat: &Seat,
    (head, passed): (u64, usize),
) -> Option<SignOffRefusal> {
    let unit = &room.units()[at];
    let ask = SignOff {
        unit,
        now: room.quarantine.now(),
        steward,
        is_steward: seat.club.is_some(),
        parties: &seat.parties,
        changed_since: head > room.head || room.last_touch(unit) > head,
        open: room.quarantine.blockers[at].len().saturating_sub(passed),
    };
    may_sign(&ask).err()
}

/// What is let pass, as it will stand; each under a blocker that there is, with a reason.
pub fn waivers(room: &RoomUnits, at: usize, passed: &[Passed]) -> Result<Vec<Waiver>> {
    let mut all = Vec::new();
    for blocker in &room.quarantine.blockers[at] {
        let Some(passed) = passed.iter().find(|passed| passed.key == blocker.key()) else { continue };
        let why = passed.why.trim();
        if why.is_empty() || why.chars().count() > MOST_LETTERS {
            return Err(Problem::new(&INVALID)
                .detail("Each thing that is let pass needs a reason of at most 2,000 characters.")
                .at("/waivers", "Say why it does not matter."));
        }
        all.push(blocker.waiver(room.quarantine.now(), why.to_owned()));
    }
    Ok(all)
}

/// The same signature again is done already.
async fn signed_before(ctx: &Ctx, steward: AccountId, ask: &Signature) -> Result<Option<Signed>> {
    let Ok((held, row)) = streams::room(ctx, ask.room).await else { return Ok(None) };
    let Some(facts) = held.memory.facts() else { return Ok(None) };
    let mine =
        facts.signed.iter().find(|s| s.op == ask.id && s.says.steward == steward && s.says.unit == ask.unit);
    Ok(mine.map(|s| Signed { head: row.head, held: s.says.held, at: s.at }))
}

fn decision(
    room: &RoomUnits,
    at: usize,
    seat: Seat,
    steward: AccountId,
    ask: &Signature,
    waivers: Vec<Waiver>,
) -> Result<QuarantineCleared> {
    let unit = &room.units()[at];
    let facts = room.held.memory.facts().cloned().unwrap_or_default();
    let opened = opened_at(unit);
    let rules = room.clubs[at]
        .iter()
        .map(|club| RuleVersion {
            club: *club,
            version: facts.rule_at(*club, opened).map_or(0, |r| r.version),
        })
        .collect();
    Ok(QuarantineCleared {
        unit: unit.id,
        members: unit.members.iter().map(|m| m.stock).collect(),
        club: seat.club.ok_or_else(|| Problem::new(&refusals::NOT_A_STEWARD))?,
        steward_club: seat.of_club,
        rules,
        held: unit.done,
        start: unit.start,
        steward,
        seen: ask.seen,
        remark: ask.remark.clone().filter(|r| !r.trim().is_empty()),
        waivers,
        relies: rests_on(room, unit),
    })
}

/// The entries that a decision about a unit rests on: what made its stocks, and all about it and its water that the
/// clock reads. They can no longer be taken back.
pub fn rests_on(room: &RoomUnits, unit: &Unit) -> Vec<OpId> {
    let memory = &room.held.memory;
    let states = view(memory.states());
    let stocks: Vec<StockId> = unit.members.iter().map(|m| m.stock).collect();
    let read = record::entries(memory, &states, &stocks, opened_at(unit))
        .into_iter()
        .filter(|entry| entry.linked.live && !entry.linked.decision && entry.body.is_some())
        .filter(|entry| entry.linked.links.withdraws.is_none() && entry.accepted.is_some())
        .map(|entry| entry.linked.order.id);
    let mut all: BTreeSet<OpId> = read.collect();
    all.extend(unit.members.iter().map(|m| m.opened_by));
    all.into_iter().collect()
}

/// Whoever keeps the room or kept it within the clock, wrote an op of the unit, or gave the fish.
async fn parties(ctx: &Ctx, room: &RoomUnits, unit: &Unit) -> Result<BTreeSet<AccountId>> {
    let conn = &ctx.db.conn;
    let opened = opened_at(unit).ms();
    let keepers = rooms::store::keepers(conn, room.room).await?;
    let mut all: BTreeSet<AccountId> = keepers
        .into_iter()
        .filter(|(_, until)| until.is_none_or(|until| until >= opened))
        .map(|(id, _)| id)
        .collect();
    let memory = &room.held.memory;
    let states = view(memory.states());
    let stocks: Vec<StockId> = unit.members.iter().map(|m| m.stock).collect();
    let told = record::entries(memory, &states, &stocks, opened_at(unit));
    all.extend(told.iter().filter(|e| !e.linked.decision).filter_map(|e| e.accepted?.by.account()));
    // The fish of a member may have come by way of other stocks: split off one, or put together with one.
    let mut next: Vec<StockId> = unit.members.iter().map(|m| m.stock).collect();
    let mut seen = BTreeSet::new();
    while let Some(stock) = next.pop() {
        if !seen.insert(stock) {
            continue;
        }
        let entries = memory.touching(stock.into()).filter(|e| !e.linked.decision);
        all.extend(entries.filter_map(|e| e.accepted?.by.account()));
        let Some(state) = memory.stock(stock) else { continue };
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
