//! Parcels: the list, one, and what officers and stewards decide of them.

use actix_web::{HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::parcels::Outcome;
use tarn_domain::streams::{AccountId, OpId, ParcelId, StreamId, UnitId};
use uuid::Uuid;

use super::{is_for_the_form, new_id, status, wall};
use crate::parcels::actions::{self, Agreement, Settlement};
use crate::parcels::views::{
    AgreePage, ParcelPage, ParcelParts, SettleTyped, agree_page, parcel_page, parcels_page,
};
use crate::platform::auth::FreshSession;
use crate::platform::csrf::Form;
use crate::platform::errors::{INVALID, NOT_FOUND};
use crate::platform::html::{Page, render, render_as, see_other};
use crate::platform::{Ctx, PageSession, Problem, Result};
use crate::quarantine::actions::{seat, unit_for};

const HERE: &str = "/parcels";

#[get("/parcels")]
pub async fn list(ctx: web::Data<Ctx>, session: PageSession) -> Result<HttpResponse> {
    let account = AccountId(session.who.account);
    let all = actions::all_for(&ctx, account).await?;
    let overdue = actions::overdue(&ctx, account).await?;
    let page = Page::of(&ctx, &session, "Parcels", HERE);
    render(&parcels_page(page, &all, &overdue, wall(&ctx, &session).await?))
}

async fn one(
    ctx: &Ctx,
    session: &PageSession,
    id: ParcelId,
    typed: SettleTyped,
    problem: Option<&Problem>,
) -> Result<ParcelPage> {
    let account = AccountId(session.who.account);
    let overdue = actions::overdue_one(ctx, account, id).await?;
    let sides = match actions::sides_for(ctx, account, id).await {
        Err(problem) if problem.kind() == &NOT_FOUND && overdue.is_some() => Vec::new(),
        sides => sides?,
    };
    let for_reader = sides.iter().any(|side| side.state.to_account == Some(account));
    let parts = ParcelParts {
        id,
        sides: &sides,
        overdue: overdue.as_ref(),
        for_reader,
        typed,
        problem,
        new: new_id(ctx),
    };
    let page = Page::of(ctx, session, "A parcel", HERE);
    Ok(parcel_page(page, &parts, wall(ctx, session).await?))
}

#[get("/parcels/{parcel}")]
pub async fn show(ctx: web::Data<Ctx>, session: PageSession, path: web::Path<Uuid>) -> Result<HttpResponse> {
    render(&one(&ctx, &session, ParcelId(*path), SettleTyped::default(), None).await?)
}

#[derive(Deserialize)]
struct Settled {
    id: Uuid,
    #[serde(default)]
    outcome: String,
    #[serde(default)]
    why: String,
}

#[post("/parcels/{parcel}/settlement")]
pub async fn settle(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<Settled>,
) -> Result<HttpResponse> {
    let (parcel, typed) = (ParcelId(*path), form.fields);
    let outcome = Outcome::ALL.into_iter().find(|outcome| outcome.word() == typed.outcome);
    let done = match outcome {
        Some(outcome) => {
            let ask = Settlement { id: OpId(typed.id), parcel, outcome, why: typed.why.clone() };
            actions::settle(&ctx, &FreshSession(session.who), &ask).await
        }
        None => Err(Problem::new(&INVALID)
            .detail("Say what became of the fish.")
            .at("/outcome", "Say what became of the fish")),
    };
    match done {
        Ok(()) => Ok(see_other(HERE)),
        Err(problem) if is_for_the_form(&problem) => {
            let typed = SettleTyped { outcome: typed.outcome, why: typed.why };
            render_as(status(&problem), &one(&ctx, &session, parcel, typed, Some(&problem)).await?)
        }
        Err(problem) => Err(problem),
    }
}

async fn agreeing(
    ctx: &Ctx,
    session: &PageSession,
    (room, unit): (Uuid, Uuid),
    typed: (&str, &str),
    problem: Option<&Problem>,
) -> Result<AgreePage> {
    let account = AccountId(session.who.account);
    let (units, at, _) = unit_for(ctx, account, StreamId(room), UnitId(unit)).await?;
    if seat(ctx, account, &units, at).await?.club.is_none() {
        return Err(Problem::new(&NOT_FOUND));
    }
    let stocks = units.units().get(at).map_or(0, |unit| unit.members.len());
    let fish = match stocks {
        1 => "The one stock of this unit".to_owned(),
        n => format!("The {n} stocks of this unit"),
    };
    let page = Page::of(ctx, session, "A parcel in quarantine", "/sign-off").at(&units.name);
    Ok(agree_page(page, (room, unit), &fish, typed, problem, new_id(ctx)))
}

#[get("/parcels/agree/{room}/{unit}")]
pub async fn agreement(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse> {
    render(&agreeing(&ctx, &session, *path, ("", ""), None).await?)
}

#[derive(Deserialize)]
struct Agreed {
    id: Uuid,
    #[serde(default)]
    to: String,
    #[serde(default)]
    why: String,
}

#[post("/parcels/agree/{room}/{unit}")]
pub async fn agree(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    form: Form<Agreed>,
) -> Result<HttpResponse> {
    let typed = form.fields;
    let (room, unit) = (StreamId(path.0), UnitId(path.1));
    let ask = Agreement { id: OpId(typed.id), room, unit, to: typed.to.clone(), why: typed.why.clone() };
    match actions::agree(&ctx, &FreshSession(session.who), &ask).await {
        Ok(_) => Ok(see_other(&format!("/units/{}/{}", path.0, path.1))),
        Err(problem) if is_for_the_form(&problem) => {
            let typed = (typed.to.as_str(), typed.why.as_str());
            let page = agreeing(&ctx, &session, *path, typed, Some(&problem)).await?;
            render_as(status(&problem), &page)
        }
        Err(problem) => Err(problem),
    }
}
