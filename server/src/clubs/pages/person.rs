//! Somebody on the list: their line, their roles, their invitation, and the end of it.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;
use tarn_domain::clubs::Role;
use tarn_domain::clubs::people::{Field as Of, Typed};
use uuid::Uuid;

use super::club::offices;
use super::people::{invited, role_choice, standing};
use super::{HERE, Pressed, Reader, again, line_fields, typed};
use crate::accounts::store as accounts_store;
use crate::clubs::actions::people::{self as list, OnList};
use crate::clubs::actions::{self, Guest};
use crate::platform::csrf::Form;
use crate::platform::edits::Expected;
use crate::platform::html::{Field, FormErrors, Page, render, render_as, see_other};
use crate::platform::parts::{Choice, Fact};
use crate::platform::words::Words;
use crate::platform::{Ctx, PageSession, Problem, Result};

#[derive(Template)]
#[template(path = "clubs/person.html")]
struct PersonPage {
    page: Page,
    lead: String,
    said: Option<&'static str>,
    errors: Option<FormErrors>,
    href: String,
    is_secretary: bool,
    has_login: bool,
    /// Under age, which an officer can end.
    is_young: bool,
    version: i32,
    facts: Vec<Fact>,
    fields: Vec<Field>,
    guest: bool,
    lapsed: bool,
    roles: Vec<Office>,
    give: Choice,
}

struct Office {
    role: &'static str,
    words: String,
}

/// What the form of the line sends, beside the line.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Version {
    version: i32,
}

async fn page(
    ctx: &Ctx,
    session: &PageSession,
    (club, person): (Uuid, Uuid),
    said: Option<&'static str>,
    came_back: Option<(Option<&Typed>, &Problem)>,
) -> Result<PersonPage> {
    let reader = Reader::of_the_list(ctx, session, club).await?;
    let on = list::one(ctx, club, person).await?;
    let is_young = match &on.login {
        Some(login) => accounts_store::young(&ctx.db.conn, login.id).await?.is_some(),
        None => false,
    };
    let (typed, problem) = came_back.map_or((None, None), |(typed, problem)| (typed, Some(problem)));
    let now = on.line.as_typed();
    let typed = typed.unwrap_or(&now);
    let mut page = Page::of(ctx, session, on.line.name.as_str(), HERE);
    page.place.clone_from(&reader.club.name);
    Ok(PersonPage {
        page,
        lead: lead(&on),
        said,
        errors: problem.map(|problem| FormErrors::of("Not done", problem)),
        href: format!("{}/people/{person}", reader.href()),
        is_secretary: reader.is_secretary(),
        has_login: on.login.is_some(),
        is_young,
        version: on.version,
        facts: facts(&on),
        fields: line_fields(typed, problem),
        guest: typed.get(Of::Guest) == Some("yes"),
        lapsed: typed.get(Of::Lapsed) == Some("yes"),
        roles: on.roles.iter().map(|role| Office { role: role.as_str(), words: offices([*role]) }).collect(),
        give: role_choice("role"),
    })
}

fn lead(on: &OnList) -> String {
    let login = match &on.login {
        Some(login) => format!("Has a login, and is called {} by others.", login.shown_name),
        None => "Has no login: an officer writes for them.".into(),
    };
    format!("{}. {login}", standing(on.standing))
}

/// What is written down, for who may only read it.
fn facts(on: &OnList) -> Vec<Fact> {
    let written = line_fields(&on.line.as_typed(), None)
        .into_iter()
        .filter(|field| !field.required && !field.value.is_empty());
    written.map(|field| Fact { name: field.label.into(), value: Words::plain(field.value) }).collect()
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Done {
    done: String,
}

/// Somebody on the list.
#[get("/clubs/{club}/people/{person}")]
pub async fn show(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    done: web::Query<Done>,
) -> Result<HttpResponse> {
    let said = match done.done.as_str() {
        "saved" => Some("The line is written anew."),
        "roles" => Some("The roles are as you said."),
        "grown" => Some("They are of age, and stand for themselves."),
        _ => None,
    };
    render(&page(&ctx, &session, *path, said, None).await?)
}

async fn came_back(
    ctx: &Ctx,
    session: &PageSession,
    at: (Uuid, Uuid),
    typed: Option<&Typed>,
    problem: Problem,
) -> Result<HttpResponse> {
    again(problem, async |problem| page(ctx, session, at, None, Some((typed, problem))).await).await
}

/// Writes the line anew.
#[post("/clubs/{club}/people/{person}")]
pub async fn save(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    form: Form<Version>,
) -> Result<HttpResponse> {
    let reader = Reader::secretary(&ctx, &session, path.0).await?;
    let (version, line) = (form.fields.version, typed(&form.pairs));
    match list::put(&ctx, &session.who.actor(), *path, &Expected::version(version), &line).await {
        Ok(()) => Ok(see_other(&format!("{}/people/{}?done=saved", reader.href(), path.1))),
        Err(problem) => came_back(&ctx, &session, *path, Some(&line), problem).await,
    }
}

#[derive(Deserialize)]
struct Which {
    #[serde(default)]
    give: Option<String>,
    #[serde(default)]
    role: String,
}

/// Gives a role, or takes it.
#[post("/clubs/{club}/people/{person}/roles")]
pub async fn roles(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    form: Form<Which>,
) -> Result<HttpResponse> {
    let reader = Reader::secretary(&ctx, &session, path.0).await?;
    let on = list::one(&ctx, path.0, path.1).await?;
    let (actor, role) = (session.who.actor(), Role::parse(&form.fields.role));
    let done = match (on.login, role) {
        (Some(login), Some(role)) if form.fields.give.is_some() => {
            actions::give_role(&ctx, &actor, path.0, login.id, role).await
        }
        (Some(login), Some(role)) => actions::take_role(&ctx, &actor, path.0, login.id, role).await,
        _ => {
            let why = "Choose a role.";
            Err(Problem::new(&crate::platform::errors::INVALID).detail(why).at("/role", why))
        }
    };
    match done {
        Ok(()) => Ok(see_other(&format!("{}/people/{}?done=roles", reader.href(), path.1))),
        Err(problem) => came_back(&ctx, &session, *path, None, problem).await,
    }
}

/// Invites them.
#[post("/clubs/{club}/people/{person}/invitation")]
pub async fn invite(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    _form: Form<Pressed>,
) -> Result<HttpResponse> {
    let reader = Reader::secretary(&ctx, &session, path.0).await?;
    let guest = Guest { email: None, role: Role::Member, person: Some(path.1) };
    match actions::invite(&ctx, &session.who.actor(), path.0, guest).await {
        Ok(done) => render_as(StatusCode::CREATED, &invited(&ctx, &req, &session, &reader, &done)),
        Err(problem) => came_back(&ctx, &session, *path, None, problem).await,
    }
}

/// Takes them off the list.
#[post("/clubs/{club}/people/{person}/strike")]
pub async fn strike(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    form: Form<Version>,
) -> Result<HttpResponse> {
    let reader = Reader::secretary(&ctx, &session, path.0).await?;
    let expected = Expected::version(form.fields.version);
    match list::strike(&ctx, &session.who.actor(), path.0, path.1, &expected).await {
        Ok(()) => Ok(see_other(&format!("{}/people?done=struck", reader.href()))),
        Err(problem) => came_back(&ctx, &session, *path, None, problem).await,
    }
}
