//! The boards: what stands on them, and how long.

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::clubs::Role;
use tarn_domain::parcels::NoticeKind;
use tarn_domain::streams::{AccountId, parse_uuid};
use uuid::Uuid;

use super::{MOST, is_for_the_form, place, status, wall};
use crate::accounts;
use crate::parcels::actions::notices::{self, Search, board};
use crate::parcels::views::{Found, Kept, list_page};
use crate::platform::csrf::Form;
use crate::platform::errors::NOT_FOUND;
use crate::platform::html::{Page, render_as, see_other};
use crate::platform::{Ctx, PageSession, Problem, Result};

const HERE: &str = "/notices";

/// The clubs of the reader, for a choice.
pub(super) async fn clubs_of(ctx: &Ctx, session: &PageSession) -> Result<Vec<(String, String)>> {
    let clubs = accounts::store::clubs_of(&ctx.db.conn, session.who.account).await?;
    Ok(clubs.into_iter().map(|(club, _)| (club.id.to_string(), club.name)).collect())
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    q: String,
    kind: String,
    club: String,
    mine: String,
    set: String,
    after: Option<String>,
}

#[get("/notices")]
pub async fn list(
    ctx: web::Data<Ctx>,
    session: PageSession,
    asked: web::Query<Asked>,
) -> Result<HttpResponse> {
    listed(&ctx, &session, &asked, None).await
}

async fn listed(
    ctx: &Ctx,
    session: &PageSession,
    asked: &Asked,
    problem: Option<(Uuid, String, &Problem)>,
) -> Result<HttpResponse> {
    let search = Search {
        words: asked.q.clone(),
        kind: NoticeKind::parse(&asked.kind),
        club: parse_uuid(&asked.club),
        author: None,
        mine: asked.mine == "true",
    };
    let after = place(asked.after.as_deref())?;
    let title = if search.mine { "Your notices" } else { "Notices" };
    let status = problem.as_ref().map(|(.., problem)| status(problem));
    let found = Found {
        search: &search,
        board: board(ctx, AccountId(session.who.account), &search, after, MOST).await?,
        later: after.is_some(),
        clubs: clubs_of(ctx, session).await?,
        boards: boards(ctx, session).await?,
        done: asked.set == "days",
        problem,
    };
    let page = list_page(Page::of(ctx, session, title, HERE), found, wall(ctx, session).await?);
    render_as(status.unwrap_or(StatusCode::OK), &page)
}

/// The boards that the reader keeps as a secretary.
async fn boards(ctx: &Ctx, session: &PageSession) -> Result<Vec<Kept>> {
    let mut all = Vec::new();
    for (club, roles) in accounts::store::clubs_of(&ctx.db.conn, session.who.account).await? {
        if roles.iter().any(|role| role == Role::Secretary.as_str()) {
            let days = notices::notice_days(ctx, club.id).await?;
            all.push(Kept { club: club.id, name: club.name, days });
        }
    }
    Ok(all)
}

#[derive(Deserialize)]
struct Days {
    #[serde(default)]
    days: String,
}

#[post("/boards/{club}")]
pub async fn set_days(
    ctx: web::Data<Ctx>,
    session: PageSession,
    club: web::Path<Uuid>,
    form: Form<Days>,
) -> Result<HttpResponse> {
    if !boards(&ctx, &session).await?.iter().any(|kept| kept.club == *club) {
        return Err(Problem::new(&NOT_FOUND));
    }
    // What is no number is as wrong as a number that is too small.
    let days = form.fields.days.trim().parse().unwrap_or(0);
    match notices::set_notice_days(&ctx, &session.who, *club, days).await {
        Ok(()) => Ok(see_other(&format!("{HERE}?set=days"))),
        Err(problem) if is_for_the_form(&problem) => {
            let wrong = Some((*club, form.fields.days, &problem));
            listed(&ctx, &session, &Asked::default(), wrong).await
        }
        Err(problem) => Err(problem),
    }
}
