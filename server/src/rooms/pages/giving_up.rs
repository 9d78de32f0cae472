//! Taking a room's records along, and giving it up.

use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION};
use actix_web::{HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;
use tarn_domain::streams::{AccountId, StreamId};
use uuid::Uuid;

use super::{HERE, whose};
use crate::platform::csrf::Form;
use crate::platform::errors::NOT_FOUND;
use crate::platform::html::{Field, FormErrors, Page, render, render_refused, see_other};
use crate::platform::{Ctx, PageSession, Problem, Result};
use crate::rooms::{actions, store};
use crate::streams;

#[derive(Template)]
#[template(path = "rooms/give_up.html")]
struct GiveUpPage {
    page: Page,
    lead: String,
    errors: Option<FormErrors>,
    id: Uuid,
    name: Field,
}

impl GiveUpPage {
    async fn new(
        ctx: &Ctx,
        session: &PageSession,
        room: StreamId,
        typed: &str,
        no: Option<&Problem>,
    ) -> Result<Self> {
        let nothing = || Problem::new(&NOT_FOUND);
        if !store::is_keeper(&ctx.db.conn, room, AccountId(session.who.account)).await? {
            return Err(nothing());
        }
        let row = store::room(&ctx.db.conn, room).await?.ok_or_else(nothing)?;
        Ok(Self {
            page: Page::of(ctx, session, "Give a room up", HERE).at(whose(session)),
            lead: format!("You are about to give up {}.", row.name),
            errors: no.map(|problem| FormErrors::of("Not given up", problem)),
            id: room.0,
            name: Field::new("name", "The room’s name, typed again").typed(typed, no),
        })
    }
}

#[get("/rooms/{room}/give-up")]
pub async fn show(ctx: web::Data<Ctx>, session: PageSession, path: web::Path<Uuid>) -> Result<HttpResponse> {
    render(&GiveUpPage::new(&ctx, &session, StreamId(*path), "", None).await?)
}

#[derive(Deserialize)]
struct Typed {
    name: String,
}

#[post("/rooms/{room}/give-up")]
pub async fn give_up(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<Typed>,
) -> Result<HttpResponse> {
    let (account, room, name) = (AccountId(session.who.account), StreamId(*path), &form.fields.name);
    match actions::give_up(&ctx, &session.who.actor(), account, room, name).await {
        Ok(()) => Ok(see_other(HERE)),
        Err(problem) if problem.kind().status < 500 && problem.kind() != &NOT_FOUND => {
            render_refused(&problem, &GiveUpPage::new(&ctx, &session, room, name, Some(&problem)).await?)
        }
        Err(problem) => Err(problem),
    }
}

#[get("/rooms/{room}/records.jsonl")]
pub async fn records(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
) -> Result<HttpResponse> {
    let export = streams::export(&ctx, AccountId(session.who.account), StreamId(*path)).await?;
    Ok(HttpResponse::Ok()
        .content_type("application/jsonl")
        .insert_header((CACHE_CONTROL, "no-store"))
        .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"records.jsonl\""))
        .streaming(export.lines()))
}
