//! The people of a club, for its officers: who stands on the list, who is invited, and putting somebody new there.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;
use tarn_domain::clubs::Role;
use tarn_domain::clubs::people::{Field as Of, Standing, Typed};
use uuid::Uuid;

use super::club::offices;
use super::{HERE, Reader, again, line_fields, typed};
use crate::clubs::actions::people::{self as list, OnList};
use crate::clubs::actions::{self, Guest};
use crate::platform::csrf::Form;
use crate::platform::edits::Expected;
use crate::platform::html::{Field, FormErrors, Page, day_and_time, render, render_as, see_other};
use crate::platform::parts::Choice;
use crate::platform::{Ctx, PageSession, Problem, Result, transport};

#[derive(Template)]
#[template(path = "clubs/people.html")]
struct PeoplePage {
    page: Page,
    lead: String,
    said: Option<String>,
    errors: Option<FormErrors>,
    href: String,
    is_secretary: bool,
    people: Vec<Row>,
    invitations: Vec<Open>,
    id: Uuid,
    fields: Vec<Field>,
    invite_email: Field,
    role: Choice,
}

struct Row {
    href: String,
    name: String,
    number: String,
    household: String,
    standing: String,
    about: String,
}

struct Open {
    id: Option<Uuid>,
    whom: String,
    until: String,
}

/// How somebody stands, in words.
pub(super) fn standing(standing: Standing) -> String {
    match standing {
        Standing::Guest => "Guest".into(),
        Standing::Lapsed => "Lapsed".into(),
        Standing::Owing(until) => format!("Owes since {until}"),
        Standing::Paid(until) => format!("Paid until {until}"),
        Standing::NotSaid => "Not written down".into(),
    }
}

/// What a role is called in a choice of one.
pub(super) fn role_choice(name: &'static str) -> Choice {
    let roles = Role::ALL.into_iter().filter(|role| *role != Role::Member);
    let mut choice = Choice::of(name, "Role", roles.map(|role| (role.as_str().to_owned(), offices([role]))));
    choice.required = false;
    choice
}

/// What came of a form.
#[derive(Default)]
struct Came<'a> {
    said: Option<String>,
    add: Option<(Uuid, &'a Typed, &'a Problem)>,
    invite: Option<(&'a NewGuest, &'a Problem)>,
}

async fn page(ctx: &Ctx, session: &PageSession, club: Uuid, came: Came<'_>) -> Result<PeoplePage> {
    let reader = Reader::of_the_list(ctx, session, club).await?;
    let people = list::list(ctx, club).await?;
    let is_secretary = reader.is_secretary();
    let open = if is_secretary { actions::open_invitations(ctx, club).await? } else { Vec::new() };
    let blank = Typed::default();
    let (id, line, wrong) = match came.add {
        Some((id, line, problem)) => (id, line, Some(problem)),
        None => (ctx.ids.new_id(ctx.clock.now_ms()), &blank, None),
    };
    let none = NewGuest::default();
    let (guest, not) = came.invite.map_or((&none, None), |(typed, problem)| (typed, Some(problem)));
    let errors = wrong.map(|problem| FormErrors::of("Not put on the list", problem));
    let mut title = Page::of(ctx, session, "People", HERE);
    title.place.clone_from(&reader.club.name);
    let invite_email = Field::new("invite_email", "E-mail")
        .hint("The link goes there if this server sends mail; it is shown here too.")
        .typed(&guest.invite_email, not);
    Ok(PeoplePage {
        page: title,
        lead: lead(&people),
        said: came.said,
        errors: errors.or_else(|| not.map(|problem| FormErrors::of("Not invited", problem))),
        href: reader.href(),
        is_secretary,
        invitations: open.into_iter().map(|row| told(row, &people)).collect(),
        people: people.iter().map(|on| row(&reader, on)).collect(),
        id,
        fields: line_fields(line, wrong),
        invite_email: Field { required: false, ..invite_email },
        role: role_choice("role").typed(&guest.role, None),
    })
}

fn lead(people: &[OnList]) -> String {
    let count = |is: fn(&OnList) -> bool| people.iter().filter(|on| is(on)).count();
    let logins = count(|on| on.login.is_some());
    let owing = count(|on| matches!(on.standing, Standing::Owing(_)));
    let lapsed = count(|on| on.standing == Standing::Lapsed);
    let many = match people.len() {
        1 => "One person stands on the list".to_owned(),
        n => format!("{n} people stand on the list"),
    };
    let more = [(owing, "with something to pay"), (lapsed, "lapsed")];
    let more: Vec<String> =
        more.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")).collect();
    let more = if more.is_empty() { String::new() } else { format!(" {}.", more.join(", ")) };
    format!("{many}, {logins} with a login.{more}")
}

fn row(reader: &Reader, on: &OnList) -> Row {
    let login = on.login.as_ref().map(|login| login.shown_name.clone());
    let roles = (!on.roles.is_empty()).then(|| offices(on.roles.iter().copied()));
    Row {
        href: format!("{}/people/{}", reader.href(), on.person),
        name: on.line.name.as_str().to_owned(),
        number: on.line.text(Of::Number),
        household: on.line.text(Of::Household),
        standing: standing(on.standing),
        about: match (login, roles) {
            (None, _) => "No login".into(),
            (Some(login), None) => login,
            (Some(login), Some(roles)) => format!("{login}, {}", roles.to_lowercase()),
        },
    }
}

fn told(row: crate::entities::invitations::Model, people: &[OnList]) -> Open {
    let line =
        people.iter().find(|on| Some(on.person) == row.person).map(|on| on.line.name.as_str().to_owned());
    let roles = row.role.unwrap_or_default();
    let role = roles.split(' ').filter_map(Role::parse).filter(|role| *role != Role::Member);
    let role: Vec<String> = role.map(Role::words).collect();
    let whom = [line, row.email].into_iter().flatten().collect::<Vec<_>>().join(", ");
    let whom = if whom.is_empty() { "Whoever has the link".into() } else { whom };
    let whom = if role.is_empty() { whom } else { format!("{whom}, as {}", role.join(", ")) };
    Open { id: row.id, whom, until: day_and_time(row.expires_ms) }
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Done {
    done: String,
}

/// The list.
#[get("/clubs/{club}/people")]
pub async fn show(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    done: web::Query<Done>,
) -> Result<HttpResponse> {
    let said = match done.done.as_str() {
        "added" => Some("They stand on the list now."),
        "struck" => Some("They stand on the list no longer."),
        "taken-back" => Some("The invitation is taken back."),
        "sheet" => Some("The sheet is taken."),
        _ => None,
    };
    let came = Came { said: said.map(str::to_owned), ..Came::default() };
    render(&page(&ctx, &session, *path, came).await?)
}

/// What the form for somebody new sends, beside their line.
#[derive(Default, Deserialize)]
#[serde(default)]
struct NewPerson {
    id: Uuid,
}

/// Puts somebody on the list.
#[post("/clubs/{club}/people")]
pub async fn add(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<NewPerson>,
) -> Result<HttpResponse> {
    let reader = Reader::secretary(&ctx, &session, *path).await?;
    let (id, line) = (form.fields.id, typed(&form.pairs));
    match list::put(&ctx, &session.who.actor(), (*path, id), &Expected::Missing, &line).await {
        Ok(()) => Ok(see_other(&format!("{}/people?done=added", reader.href()))),
        Err(problem) => {
            again(problem, async |problem| {
                let came = Came { add: Some((id, &line, problem)), ..Came::default() };
                page(&ctx, &session, *path, came).await
            })
            .await
        }
    }
}

/// What the form that invites sends.
#[derive(Default, Deserialize)]
#[serde(default)]
struct NewGuest {
    invite_email: String,
    role: String,
}

/// An invitation that was just made; its link is shown this once.
#[derive(Template)]
#[template(path = "clubs/invited.html")]
pub(super) struct InvitedPage {
    page: Page,
    lead: String,
    link: String,
    back: String,
}

/// The page with the link of an invitation.
pub(super) fn invited(
    ctx: &Ctx,
    req: &HttpRequest,
    session: &PageSession,
    reader: &Reader,
    invited: &actions::Invited,
) -> InvitedPage {
    let until = day_and_time(invited.expires_ms);
    let sent =
        if invited.mailed { "It goes out by mail too." } else { "It was not mailed: hand it over yourself." };
    let mut page = Page::of(ctx, session, "Invited", HERE);
    page.place.clone_from(&reader.club.name);
    InvitedPage {
        page,
        lead: format!("Copy the link now: it is shown this once, and good once, until {until}. {sent}"),
        link: format!("{}/invitation?token={}", transport::own_origin(req, &ctx.config), invited.token),
        back: format!("{}/people", reader.href()),
    }
}

/// Invites somebody who is not on the list.
#[post("/clubs/{club}/invitations")]
pub async fn invite(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<NewGuest>,
) -> Result<HttpResponse> {
    let reader = Reader::secretary(&ctx, &session, *path).await?;
    let typed = form.fields;
    let email = Some(typed.invite_email.trim()).filter(|email| !email.is_empty());
    let guest = Guest { email, role: Role::parse(&typed.role).unwrap_or(Role::Member), person: None };
    match actions::invite(&ctx, &session.who.actor(), *path, guest).await {
        Ok(done) => render_as(StatusCode::CREATED, &invited(&ctx, &req, &session, &reader, &done)),
        Err(problem) => {
            let problem = match problem.faults().first().map(|(_, why)| (*why).to_owned()) {
                Some(why) => problem.at("/invite_email", why),
                None => problem,
            };
            again(problem, async |problem| {
                let came = Came { invite: Some((&typed, problem)), ..Came::default() };
                page(&ctx, &session, *path, came).await
            })
            .await
        }
    }
}

#[derive(Deserialize)]
struct Which {
    invitation: Uuid,
}

/// Takes an invitation back.
#[post("/clubs/{club}/invitations/end")]
pub async fn take_back(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<Which>,
) -> Result<HttpResponse> {
    let reader = Reader::secretary(&ctx, &session, *path).await?;
    actions::take_back(&ctx, &session.who.actor(), *path, form.fields.invitation).await?;
    Ok(see_other(&format!("{}/people?done=taken-back", reader.href())))
}
