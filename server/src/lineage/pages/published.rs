//! Pages of stock lists: those one may read, one of them, and to whom one's own goes.

use actix_web::{HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::streams::{AccountId, StreamId};
use uuid::Uuid;

use super::HERE;
use crate::lineage::actions::published::{self, Audience};
use crate::lineage::views::published as views;
use crate::platform::csrf::Form;
use crate::platform::edits::Expected;
use crate::platform::errors::{INVALID, NOT_THE_NEWEST, Problem};
use crate::platform::html::{Page, render, render_refused, see_other};
use crate::platform::{Ctx, PageSession, Result};
use crate::rooms;

/// How many lists a page has.
const MOST: u64 = 20;

#[derive(Deserialize)]
struct After {
    after: Option<Uuid>,
}

#[get("/lists")]
pub async fn show_all(
    ctx: web::Data<Ctx>,
    session: PageSession,
    asked: web::Query<After>,
) -> Result<HttpResponse> {
    let account = AccountId(session.who.account);
    let (lists, next) = published::lists(&ctx, account, asked.after, MOST).await?;
    let mut own = Vec::new();
    for room in rooms::store::rooms_of(&ctx.db.conn, account).await? {
        let set = published::setting(&ctx, account, StreamId(room.stream)).await?;
        own.push(views::own(&room.name, StreamId(room.stream), &set));
    }
    let page = Page::of(&ctx, &session, "Stock lists", HERE);
    render(&views::lists_page(page, &lists, own, asked.after.is_some(), next))
}

#[get("/lists/{room}")]
pub async fn show(ctx: web::Data<Ctx>, session: PageSession, path: web::Path<Uuid>) -> Result<HttpResponse> {
    let list = published::list(&ctx, AccountId(session.who.account), StreamId(*path)).await?;
    let page = |title| Page::of(&ctx, &session, title, HERE);
    render(&views::list_page(page, &list))
}

/// What the form sends.
#[derive(Default, Deserialize)]
#[serde(default)]
pub struct Typed {
    to: String,
    name: String,
    version: i32,
}

#[derive(Deserialize)]
struct Done {
    done: Option<String>,
}

#[get("/rooms/{room}/published")]
pub async fn setting(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    done: web::Query<Done>,
) -> Result<HttpResponse> {
    form(&ctx, &session, StreamId(*path), None, done.done.is_some()).await
}

async fn form(
    ctx: &Ctx,
    session: &PageSession,
    room: StreamId,
    came_back: Option<(&Typed, &Problem)>,
    done: bool,
) -> Result<HttpResponse> {
    let account = AccountId(session.who.account);
    let set = published::setting(ctx, account, room).await?;
    let list = published::list(ctx, account, room).await?;
    let row = rooms::store::room(&ctx.db.conn, room).await?;
    let page =
        Page::of(ctx, session, "Publish your stock", HERE).at(row.map_or_else(String::new, |row| row.name));
    let typed = came_back.map(|(typed, problem)| ((typed.to.as_str(), typed.name.as_str()), problem));
    let page = views::setting_page(page, &session.shown_name, &set, &list, typed, done);
    match came_back {
        Some((_, problem)) => render_refused(problem, &page),
        None => render(&page),
    }
}

#[post("/rooms/{room}/published")]
pub async fn save(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<Typed>,
) -> Result<HttpResponse> {
    let (room, typed) = (StreamId(*path), form.fields);
    match publish(&ctx, &session, room, &typed).await {
        Ok(()) => Ok(see_other(&format!("/rooms/{room}/published?done=set"))),
        Err(problem) if [INVALID.code, NOT_THE_NEWEST.code].contains(&problem.kind().code) => {
            self::form(&ctx, &session, room, Some((&typed, &problem)), false).await
        }
        Err(problem) => Err(problem),
    }
}

async fn publish(ctx: &Ctx, session: &PageSession, room: StreamId, typed: &Typed) -> Result<()> {
    let (to, with_name) = (Audience::parse(&typed.to), typed.name == "yes");
    let mut missing = Problem::new(&INVALID).detail("An answer is missing");
    if to.is_none() {
        missing = missing.at("/to", "Choose to whom it goes.");
    }
    if !["yes", "no"].contains(&typed.name.as_str()) {
        missing = missing.at("/name", "Choose whether your name stands on it.");
    }
    let (Some(to), true) = (to, missing.faults().is_empty()) else { return Err(missing) };
    let (account, expected) = (AccountId(session.who.account), Expected::version(typed.version));
    published::publish(ctx, &session.who.actor(), account, room, &expected, (to, with_name)).await
}
