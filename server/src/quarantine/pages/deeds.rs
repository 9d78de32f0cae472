//! What a keeper does about what is in the way of a unit: begins the days again, writes down that a treatment is over or
//! that fish swim, names a home club. Each is one press, and an entry like any other.

use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::{StockMoved, TreatmentEnded};
use tarn_domain::state::Blocker;
use tarn_domain::streams::{AccountId, ClubId, OpId, StockId, StreamId, TankId, TreatmentId, UnitId};
use uuid::Uuid;

use super::unit::back_to;
use crate::platform::csrf::Form;
use crate::platform::{Ctx, PageSession, Result};
use crate::quarantine::actions;
use crate::rooms;

/// What "Begin again" sends.
#[derive(Deserialize)]
struct BeginAgain {
    /// The entry's id, made with the page.
    id: Uuid,
    /// The time without a look at whose end the days begin again.
    key: String,
}

#[post("/units/{room}/{unit}/begin-again")]
pub async fn begin_again(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    form: Form<BeginAgain>,
) -> Result<HttpResponse> {
    let (account, room, unit) = (AccountId(session.who.account), StreamId(path.0), UnitId(path.1));
    let BeginAgain { id, key } = form.fields;
    let (units, at, _) = actions::unit_for(&ctx, account, room, unit).await?;
    // Not what the page said, but what is so now: a gap that runs ends later than it did.
    let gap = units.quarantine.blockers[at].iter().find_map(|blocker| match blocker {
        Blocker::Gap(gap) if blocker.key() == key => Some(*gap),
        _ => None,
    });
    // The room is let go before the write takes it.
    drop(units);
    let Some(gap) = gap else { return Ok(back_to(*path, "nothing")) };
    let ends = (gap.stock, gap.until);
    actions::begin_again(&ctx, &session.who.actor(), (account, room), OpId(id), ends).await?;
    Ok(back_to(*path, "begun"))
}

/// What "The treatment is over" sends.
#[derive(Deserialize)]
struct Ended {
    /// The entry's id, made with the page.
    id: Uuid,
    treatment: Uuid,
}

#[post("/units/{room}/{unit}/treatment-ended")]
pub async fn treatment_ended(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    form: Form<Ended>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(path.0));
    let of = actions::unit(&ctx, account, room, UnitId(path.1)).await?;
    let treatment = TreatmentId(form.fields.treatment);
    let runs = of.look.states().treatments.get(&treatment).is_some_and(|t| t.until.is_none());
    drop(of);
    if !runs {
        return Ok(back_to(*path, "nothing"));
    }
    let body = Body::TreatmentEnded(TreatmentEnded { treatment });
    let id = OpId(form.fields.id);
    rooms::actions::enter(&ctx, &session.who.actor(), account, room, id, None, body).await?;
    Ok(back_to(*path, "ended"))
}

/// What "They swim in it now" sends.
#[derive(Deserialize)]
struct Swim {
    /// The entry's id, made with the page.
    id: Uuid,
    stock: Uuid,
    /// Empty: none was chosen.
    #[serde(default)]
    tank: String,
}

#[post("/units/{room}/{unit}/out-of-the-bag")]
pub async fn out_of_the_bag(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    form: Form<Swim>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(path.0));
    let Ok(tank) = form.fields.tank.parse::<Uuid>() else { return Ok(back_to(*path, "which")) };
    let of = actions::unit(&ctx, account, room, UnitId(path.1)).await?;
    let (stock, tank) = (StockId(form.fields.stock), TankId(tank));
    let states = of.look.states();
    let waits = of.unit.start.is_none() && of.unit.members.iter().any(|member| member.stock == stock);
    let there = states.tanks.contains_key(&tank);
    drop(states);
    drop(of);
    if !waits || !there {
        return Ok(back_to(*path, "nothing"));
    }
    let body = Body::StockMoved(StockMoved { stock, from: None, to: Some(tank), companion: false });
    let id = OpId(form.fields.id);
    rooms::actions::enter(&ctx, &session.who.actor(), account, room, id, None, body).await?;
    Ok(back_to(*path, "swim"))
}

/// What "Name ..." sends.
#[derive(Deserialize)]
struct Named {
    club: Uuid,
}

#[post("/units/{room}/{unit}/home-club")]
pub async fn home_club(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    form: Form<Named>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(path.0));
    // What stands on a page that was left open must not change a club that was named since.
    if !actions::unit(&ctx, account, room, UnitId(path.1)).await?.clubs.is_empty() {
        return Ok(back_to(*path, "nothing"));
    }
    let club = Some(ClubId(form.fields.club));
    actions::set_home_club(&ctx, &session.who.actor(), account, room, club).await?;
    Ok(back_to(*path, "named"))
}
