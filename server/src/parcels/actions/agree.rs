//! A parcel in quarantine: when a room must be emptied, a steward lets the fish of a unit leave in one parcel to one
//! keeper. Nothing is cleared; the clock starts again at the receiver.

use tarn_domain::catalogue::Body;
use tarn_domain::parcels::ParcelAgreed;
use tarn_domain::streams::{AccountId, At, OpId, ParcelId, StreamId, UnitId};
use uuid::Uuid;

use super::reason;
use crate::parcels::refusals::PARCEL_TO_NOBODY;
use crate::platform::auth::FreshSession;
use crate::platform::errors::Problem;
use crate::platform::messages::{self, Line};
use crate::platform::{Ctx, Result, write::write};
use crate::quarantine::actions::{seat, unit_for};
use crate::quarantine::refusals::NOT_A_STEWARD;
use crate::rooms;
use crate::streams::{self, Incoming, Path};

/// What a steward agrees to.
#[derive(Debug, Clone)]
pub struct Agreement {
    /// Made by the page, so that pressing twice is once.
    pub id: OpId,
    /// The room.
    pub room: StreamId,
    /// The unit.
    pub unit: UnitId,
    /// For whom, by login name.
    pub to: String,
    /// Why.
    pub why: String,
}

/// The parcel under which the fish may be packed: made from the decision, so that asking twice agrees once.
pub fn parcel_of(agreement: OpId) -> ParcelId {
    ParcelId(streams::following_id(agreement, "parcel").0)
}

/// Agrees a parcel in quarantine.
///
/// # Errors
/// `not-found` for strangers, `not-a-steward`, `parcel-to-nobody`.
pub async fn agree(ctx: &Ctx, who: &FreshSession, ask: &Agreement) -> Result<ParcelId> {
    let steward = AccountId(who.0.account);
    let why = reason(&ask.why, "why the room must be emptied")?;
    let parcel = parcel_of(ask.id);
    let (room, at, _) = unit_for(ctx, steward, ask.room, ask.unit).await?;
    let club = seat(ctx, steward, &room, at).await?.club.ok_or_else(|| Problem::new(&NOT_A_STEWARD))?;
    let stocks = room.units().get(at).map(|unit| unit.members.iter().map(|member| member.stock).collect());
    drop(room);
    let login = ask.to.trim().to_lowercase();
    let account = rooms::store::account_of_login(&ctx.db.conn, &login).await?;
    let to = account
        .map(|row| AccountId(row.id))
        .ok_or_else(|| Problem::new(&PARCEL_TO_NOBODY).at("/to", "Nobody here has this login name."))?;
    let keepers = rooms::store::keepers_of(&ctx.db.conn, ask.room).await?;
    write(ctx, &who.0.actor(), async |w| {
        let body = ParcelAgreed {
            parcel,
            stocks: stocks.clone().unwrap_or_default(),
            to,
            login: login.clone(),
            why: why.clone(),
            steward,
            relies: Vec::new(),
        };
        let at = At::from_seconds(w.now.div_euclid(1000));
        let incoming = Incoming { id: ask.id, at: Some(at), body: Body::ParcelAgreed(body) };
        streams::append(w, ask.room, vec![incoming], Path::Decision(steward)).await?;
        let fact = format!("parcel {parcel} in quarantine of room {} agreed by {steward}", ask.room);
        w.audit_of(club.0, "parcels", fact);
        let text = format!(
            "A health steward agreed that fish in quarantine may leave your room in one parcel, to {login}. Nothing is \
             cleared: their days begin again there. Pack it with: tarn parcel pack --agreed {parcel}"
        );
        let fact = format!("parcels:agreed:{}", ask.id);
        for keeper in keepers.iter().map(|keeper| keeper.0).collect::<std::collections::BTreeSet<Uuid>>() {
            messages::tell(w, Line { account: keeper, fact: &fact, text: &text, href: None }).await?;
        }
        let text = "Fish in quarantine are to come to you in a parcel, agreed by a health steward since their room must be \
            emptied. They were not cleared: keep them on a water of their own; their days begin with you.";
        messages::tell(w, Line { account: to.0, fact: &fact, text, href: Some("/parcels".into()) }).await?;
        Ok(parcel)
    })
    .await
}
