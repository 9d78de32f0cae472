//! The page of a room's people: who keeps it, and who would act for them.

use actix_web::{HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;
use tarn_domain::streams::{AccountId, StreamId};
use uuid::Uuid;

use super::{HERE, whose};
use crate::platform::csrf::Form;
use crate::platform::errors::NOT_FOUND;
use crate::platform::html::{Field, FormErrors, Page, day_and_time, render, render_refused, see_other};
use crate::platform::{Ctx, PageSession, Problem, Result};
use crate::rooms::{actions, store};

#[derive(Template)]
#[template(path = "rooms/people.html")]
struct PeoplePage {
    page: Page,
    lead: String,
    errors: Option<FormErrors>,
    id: Uuid,
    keepers: Vec<KeeperLine>,
    caretaker: Option<String>,
    keeper: Field,
    named: Field,
}

struct KeeperLine {
    name: String,
    login: String,
    since: String,
    is_you: bool,
}

/// What was tried in vain, and what was typed.
struct Tried<'a> {
    not: &'a str,
    field: &'static str,
    typed: &'a str,
    problem: &'a Problem,
}

impl PeoplePage {
    async fn new(ctx: &Ctx, session: &PageSession, room: StreamId, tried: Option<Tried<'_>>) -> Result<Self> {
        let (conn, you) = (&ctx.db.conn, AccountId(session.who.account));
        let nothing = || Problem::new(&NOT_FOUND);
        if !store::is_keeper(conn, room, you).await? {
            return Err(nothing());
        }
        let row = store::room(conn, room).await?.ok_or_else(nothing)?;
        let keepers: Vec<_> = store::keepers_with_logins(conn, room).await?;
        let caretaker = match store::caretaker(conn, room).await? {
            None => None,
            Some(row) => {
                let name = store::people(conn, [AccountId(row.account)]).await?.into_values().next();
                let name = name.unwrap_or_default();
                Some(match row.acting_ms {
                    None => format!("{name} would act for you."),
                    Some(since) => format!("{name} acts since {}.", day_and_time(since)),
                })
            }
        };
        let field = |name: &'static str, label| {
            let of = tried.as_ref().filter(|tried| tried.field == name);
            let mut field = Field::new(name, label).typed(of.map_or("", |tried| tried.typed), None);
            field.error = of.map(|tried| tried.problem.sentence().to_owned());
            field
        };
        Ok(Self {
            page: Page::of(ctx, session, "Who keeps it", HERE).at(whose(session)),
            lead: match keepers.len() {
                1 => format!("You keep {} alone.", row.name),
                n => format!("{n} people keep {}.", row.name),
            },
            keeper: field("keeper", "Login name of somebody who keeps it with you"),
            named: field("named", "Login name of the caretaker"),
            errors: tried.as_ref().map(|tried| FormErrors::of(tried.not, tried.problem)),
            id: room.0,
            keepers: keepers
                .into_iter()
                .map(|(account, since)| KeeperLine {
                    is_you: account.id == you.0,
                    name: account.shown_name,
                    login: account.login_name,
                    since: day_and_time(since),
                })
                .collect(),
            caretaker,
        })
    }

    async fn answer(
        ctx: &Ctx,
        session: &PageSession,
        room: StreamId,
        done: Result<()>,
        tried: (&str, &'static str, &str),
    ) -> Result<HttpResponse> {
        let (not, field, typed) = tried;
        match done {
            Ok(()) => Ok(see_other(&format!("{HERE}/{room}/people"))),
            Err(problem) if problem.kind().status < 500 => {
                let tried = Tried { not, field, typed, problem: &problem };
                render_refused(&problem, &Self::new(ctx, session, room, Some(tried)).await?)
            }
            Err(problem) => Err(problem),
        }
    }
}

#[get("/rooms/{room}/people")]
pub async fn show(ctx: web::Data<Ctx>, session: PageSession, path: web::Path<Uuid>) -> Result<HttpResponse> {
    render(&PeoplePage::new(&ctx, &session, StreamId(*path), None).await?)
}

#[derive(Deserialize)]
struct Keeper {
    keeper: String,
}

#[post("/rooms/{room}/keepers")]
pub async fn add_keeper(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<Keeper>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(*path));
    let typed = form.fields.keeper.trim();
    let done = actions::add_keeper(&ctx, &session.who.actor(), account, room, typed).await;
    let done =
        done.map_err(|no| if no.kind() == &NOT_FOUND { no.detail("Nobody signs in as that.") } else { no });
    PeoplePage::answer(&ctx, &session, room, done, ("Nobody was added", "keeper", typed)).await
}

#[post("/rooms/{room}/keepers/end")]
pub async fn end_keeper(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<Keeper>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(*path));
    let done = actions::end_keeper(&ctx, &session.who.actor(), account, room, &form.fields.keeper).await;
    if done.is_ok() && !store::is_keeper(&ctx.db.conn, room, account).await? {
        return Ok(see_other(HERE));
    }
    PeoplePage::answer(&ctx, &session, room, done, ("Nothing was changed", "", "")).await
}

#[derive(Deserialize)]
struct Named {
    named: String,
}

#[post("/rooms/{room}/caretaker")]
pub async fn name_caretaker(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<Named>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(*path));
    let typed = form.fields.named.trim();
    let done = actions::caretaker::name(&ctx, &session.who.actor(), account, room, typed).await;
    PeoplePage::answer(&ctx, &session, room, done, ("Nobody was named", "named", typed)).await
}

#[derive(Deserialize)]
struct Nothing {}

#[post("/rooms/{room}/caretaker/end")]
pub async fn end_caretaker(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    _form: Form<Nothing>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(*path));
    let done = actions::caretaker::end(&ctx, &session.who.actor(), account, room).await;
    PeoplePage::answer(&ctx, &session, room, done, ("Nothing was changed", "", "")).await
}

#[post("/rooms/{room}/take-over")]
pub async fn take_over(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    _form: Form<Nothing>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(*path));
    actions::caretaker::take_over(&ctx, &session.who.actor(), account, room).await?;
    Ok(see_other(&format!("{HERE}/{room}")))
}
