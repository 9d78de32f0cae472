//! A parcel that was not closed in time: an officer finds out what became of it, and says so.

use tarn_domain::catalogue::Body;
use tarn_domain::parcels::{OpenRow, Outcome, ParcelSettled};
use tarn_domain::rooms::Numbers;
use tarn_domain::streams::{AccountId, At, ClubId, OpId, ParcelId, StreamId};
use uuid::Uuid;

use super::{reason, true_sides};
use crate::clubs;
use crate::parcels::refusals::{PARCEL_BY_PARTY, PARCEL_CLOSED, PARCEL_NOT_DUE};
use crate::parcels::store::{self, Side};
use crate::platform::auth::FreshSession;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::messages::{self, Line};
use crate::platform::{Ctx, Result, write::write};
use crate::rooms;
use crate::streams::{self, Incoming, Path};
use tarn_domain::clubs::Role;

/// So long both sides have to close a parcel themselves.
pub const DAYS: i64 = 14;

/// What an officer says.
#[derive(Debug, Clone)]
pub struct Settlement {
    /// Made by the page, so that pressing twice is once.
    pub id: OpId,
    /// Which parcel.
    pub parcel: ParcelId,
    /// What became of it.
    pub outcome: Outcome,
    /// Why.
    pub why: String,
}

/// A parcel that is open too long, as its officers see it.
pub struct Overdue {
    /// Which.
    pub parcel: ParcelId,
    /// The room that sent it.
    pub giver: StreamId,
    /// For whom.
    pub to: Option<AccountId>,
    /// When it was handed over.
    pub handed: At,
    /// What is open, by node and sex.
    pub open: Numbers,
    /// The clubs whose officers may settle it.
    pub clubs: Vec<ClubId>,
    /// Who has a stake in it.
    pub parties: Vec<AccountId>,
}

/// Who settles parcels of their club.
const OFFICERS: [Role; 2] = [Role::Secretary, Role::HealthSteward];

/// What is open of a parcel, by node and sex; signed.
fn open(sides: &[Side]) -> Numbers {
    let mut open = Numbers::default();
    sides.iter().for_each(|side| side.state.open().rows().for_each(|(key, n)| open.add(key, n)));
    open
}

/// How a parcel stands, if it has left.
pub async fn standing(ctx: &Ctx, sides: Vec<Side>, parcel: ParcelId) -> Result<Option<Overdue>> {
    let conn = &ctx.db.conn;
    let all = true_sides(conn, sides).await?;
    let Some(giver) = all.iter().find(|side| side.state.sent.is_some()) else { return Ok(None) };
    let Some((_, handed)) = giver.state.handed else { return Ok(None) };
    let (mut clubs, mut parties) = (Vec::new(), Vec::new());
    for side in &all {
        let room = rooms::store::room(conn, side.stream).await?;
        clubs.extend(room.and_then(|room| room.home_club).map(ClubId));
        parties.extend(rooms::store::keepers_of(conn, side.stream).await?);
    }
    let to = giver.state.to_account;
    if let Some(to) = to {
        parties.push(to);
        for room in rooms::store::rooms_of(conn, to).await? {
            clubs.extend(room.home_club.map(ClubId));
        }
    }
    clubs.sort_unstable();
    clubs.dedup();
    let open = open(&all);
    Ok(Some(Overdue { parcel, giver: giver.stream, to, handed, open, clubs, parties }))
}

impl Overdue {
    /// Whether both sides had the time to close it themselves.
    pub fn is_due(&self, now: At) -> bool {
        self.handed.seconds() + DAYS * 86_400 <= now.seconds()
    }

    /// Whether nothing is open.
    pub fn is_closed(&self) -> bool {
        self.open.rows().next().is_none()
    }
}

/// The parcels that an account may settle as an officer, the oldest first.
pub async fn overdue(ctx: &Ctx, account: AccountId) -> Result<Vec<Overdue>> {
    let clubs = officer_of(ctx, account).await?;
    if clubs.is_empty() {
        return Ok(Vec::new());
    }
    let mut all = Vec::new();
    for id in store::sent_and_not_settled(&ctx.db.conn).await? {
        all.extend(to_settle(ctx, account, &clubs, id).await?);
    }
    all.sort_by_key(|found| (found.handed, found.parcel));
    Ok(all)
}

/// One parcel, if the account may settle it as an officer.
pub async fn overdue_one(ctx: &Ctx, account: AccountId, id: ParcelId) -> Result<Option<Overdue>> {
    let clubs = officer_of(ctx, account).await?;
    if clubs.is_empty() { Ok(None) } else { to_settle(ctx, account, &clubs, id).await }
}

/// The clubs of which an account is such an officer.
async fn officer_of(ctx: &Ctx, account: AccountId) -> Result<Vec<ClubId>> {
    let mut clubs = Vec::new();
    for role in OFFICERS {
        clubs.extend(clubs::store::clubs_where(&ctx.db.conn, account.0, role).await?.into_iter().map(ClubId));
    }
    Ok(clubs)
}

async fn to_settle(ctx: &Ctx, account: AccountId, clubs: &[ClubId], id: ParcelId) -> Result<Option<Overdue>> {
    let now = At::from_seconds(ctx.clock.now_ms().div_euclid(1000));
    let found = standing(ctx, store::sides(&ctx.db.conn, id).await?, id).await?;
    Ok(found.filter(|found| {
        let mine = found.clubs.iter().any(|club| clubs.contains(club)) && !found.parties.contains(&account);
        mine && found.is_due(now) && !found.is_closed()
    }))
}

/// Settles what is open of a parcel.
///
/// # Errors
/// `not-found` for who is no officer of a club of one of the two, `parcel-by-party`, `parcel-not-due`, `parcel-closed`.
pub async fn settle(ctx: &Ctx, who: &FreshSession, ask: &Settlement) -> Result<()> {
    let officer = AccountId(who.0.account);
    let nothing = || Problem::new(&NOT_FOUND);
    let why = reason(&ask.why, "why")?;
    let sides = store::sides(&ctx.db.conn, ask.parcel).await?;
    let done = sides.iter().any(|side| side.state.settled.as_ref().is_some_and(|s| s.op == ask.id));
    let found = standing(ctx, sides, ask.parcel).await?.ok_or_else(nothing)?;
    let club = officer_of(ctx, officer).await?.into_iter().find(|club| found.clubs.contains(club));
    let club = club.ok_or_else(nothing)?;
    if done {
        return Ok(());
    }
    if found.parties.contains(&officer) {
        return Err(Problem::new(&PARCEL_BY_PARTY));
    }
    let now = At::from_seconds(ctx.clock.now_ms().div_euclid(1000));
    if !found.is_due(now) {
        let due = At::from_seconds(found.handed.seconds() + DAYS * 86_400);
        return Err(Problem::new(&PARCEL_NOT_DUE)
            .detail(format!("It may be settled from {}.", due.plain()))
            .with("due", due.to_string()));
    }
    if found.is_closed() {
        return Err(Problem::new(&PARCEL_CLOSED));
    }
    write(ctx, &who.0.actor(), async |w| {
        streams::touch_up(w, found.giver).await?;
        // what came in since counts
        let sides = store::sides(w.tx(), ask.parcel).await?;
        let sides = true_sides(w.tx(), sides).await?;
        let rows: Vec<OpenRow> =
            open(&sides).rows().map(|((node, sex), n)| OpenRow { node, sex, n }).collect();
        if rows.is_empty() {
            return Err(Problem::new(&PARCEL_CLOSED));
        }
        let sent = sides.iter().filter_map(|side| side.state.sent).collect();
        let (parcel, outcome) = (ask.parcel, ask.outcome);
        let body = ParcelSettled { parcel, outcome, rows, why: why.clone(), officer, relies: sent };
        let at = At::from_seconds(w.now.div_euclid(1000));
        let incoming = Incoming { id: ask.id, at: Some(at), body: Body::ParcelSettled(body) };
        streams::append(w, found.giver, vec![incoming], Path::Decision(officer)).await?;
        let fact = format!("parcel {parcel} settled as {} by {officer}", outcome.word());
        w.audit_of(club.0, "parcels", fact);
        for account in &found.parties {
            let text = format!("A parcel of yours was settled by an officer as {}: {why}", outcome.word());
            let fact = format!("parcels:settled:{parcel}");
            let href = Some(format!("/parcels/{parcel}"));
            messages::tell(w, Line { account: account.0, fact: &fact, text: &text, href }).await?;
        }
        Ok(())
    })
    .await
}

/// Officers are told of parcels that are open too long; of each once.
pub async fn tell_officers(ctx: &Ctx, w: &crate::platform::Write) -> Result<()> {
    let now = At::from_seconds(w.now.div_euclid(1000));
    for id in store::sent_and_not_settled(w.tx()).await? {
        let sides = store::sides(w.tx(), id).await?;
        let Some(found) = standing(ctx, sides, id).await? else { continue };
        if !found.is_due(now) || found.is_closed() {
            continue;
        }
        let text = format!(
            "A parcel that was handed over {DAYS} days ago or more is still open. Ask both sides, and settle it."
        );
        for club in &found.clubs {
            let mut officers = Vec::new();
            for role in OFFICERS {
                officers.extend(clubs::store::accounts_with_role(w.tx(), club.0, role).await?);
            }
            for officer in officers.into_iter().filter(|id: &Uuid| !found.parties.contains(&AccountId(*id))) {
                let fact = format!("parcels:overdue:{id}");
                let href = Some("/parcels".into());
                messages::tell(w, Line { account: officer, fact: &fact, text: &text, href }).await?;
            }
        }
    }
    Ok(())
}
