//! Pages about the account: signing in and out, what is signed in, how one is told.

mod data;
mod devices;
mod email;
mod factor;
mod forgotten;
mod messages;
mod password;
mod telling;
mod young;

use actix_web::cookie::{Cookie, SameSite, time};
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;
use uuid::Uuid;

use super::actions::{self, Entered, Factor, SignIn};
use super::store;
use crate::platform::csrf::{Form, OpenForm};
use crate::platform::errors::NOT_FOUND;
use crate::platform::html::{self, Field, FormErrors, Page, render, render_refused, see_other};
use crate::platform::words::Words;
use crate::platform::{Ctx, PageSession, Problem, Result, Visitor, auth, seal, transport};

pub use data::{download_data, leave, show_data};
pub use devices::devices;
pub use email::addresses;
pub use factor::access;
pub use forgotten::by_letter;
pub use messages::told_what;
pub use password::passwords;
pub use telling::told_how;
pub use young::in_care;

const COOKIE_DAYS: i64 = 90;

#[derive(Template)]
#[template(path = "accounts/sign_in.html")]
struct SignInPage {
    page: Page,
    reason: Option<String>,
    errors: Option<FormErrors>,
    next: String,
    login_name: Field,
    password: Field,
    /// Whether a forgotten password can be reset by a letter.
    has_mail: bool,
    /// Whether people may sign up by themselves.
    sign_up: bool,
}

impl SignInPage {
    fn new(ctx: &Ctx, next: &str, typed: &str, problem: Option<&Problem>) -> Self {
        let mut page = Page::plain(ctx, "Sign in");
        page.place = "Your rooms and clubs".into();
        Self {
            page,
            reason: None,
            errors: problem.map(|problem| FormErrors::of("Not signed in", problem)),
            next: next.to_owned(),
            login_name: Field::new("login_name", "Login name").typed(typed, problem),
            password: Field::new("password", "Password").typed("", problem),
            has_mail: ctx.post.is_some(),
            sign_up: ctx.config.sign_up,
        }
    }
}

/// The first page: what the menu begins with, or signing in.
#[get("/")]
pub async fn first(visitor: Visitor) -> HttpResponse {
    match visitor.0 {
        Some(session) => see_other(session.menu.first().map_or("/account", |first| &first.href)),
        None => see_other("/sign-in"),
    }
}

#[derive(Deserialize)]
struct Next {
    #[serde(default)]
    next: String,
}

#[get("/sign-in")]
pub async fn sign_in_form(
    ctx: web::Data<Ctx>,
    visitor: Visitor,
    query: web::Query<Next>,
) -> Result<HttpResponse> {
    let next = html::local_path(&query.next).unwrap_or("/");
    if visitor.0.is_some() {
        return Ok(see_other(next));
    }
    render(&SignInPage::new(&ctx, next, "", None))
}

#[derive(Deserialize)]
struct Typed {
    login_name: String,
    password: String,
    #[serde(default)]
    next: String,
}

#[post("/sign-in")]
pub async fn sign_in(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    _visitor: Visitor,
    form: OpenForm<Typed>,
) -> Result<HttpResponse> {
    let typed = &form.fields;
    let next = html::local_path(&typed.next).unwrap_or("/");
    let wanted = SignIn {
        login_name: &typed.login_name,
        password: &typed.password,
        code: None,
        address: transport::visitor_address(&req, &ctx.config),
        what: super::api::what(&req),
    };
    match actions::sign_in_by_page(&ctx, wanted).await {
        Ok(Entered::In(opened)) => with_cookie(&ctx, &req, opened.session, see_other(next)).await,
        Ok(Entered::Waits(pending)) => render(&factor::CodePage::new(&ctx, &pending, next, None)),
        Err(problem) if problem.kind().status < 500 => {
            render_refused(&problem, &SignInPage::new(&ctx, next, &typed.login_name, Some(&problem)))
        }
        Err(problem) => Err(problem),
    }
}

/// The answer, and the browser is signed in with this session from now on; the one that it had ends.
pub async fn with_cookie(
    ctx: &Ctx,
    req: &HttpRequest,
    session: Uuid,
    mut answer: HttpResponse,
) -> Result<HttpResponse> {
    if let Some(before) = auth::cookie_session(req, ctx)?.filter(|before| *before != session) {
        actions::end_replaced_session(ctx, before).await?;
    }
    let cookie =
        cookie(ctx, req, seal::cookie(&ctx.keys.cookie, session), time::Duration::days(COOKIE_DAYS))?;
    answer.add_cookie(&cookie).map_err(|err| Problem::failed("a cookie", err))?;
    Ok(answer)
}

fn cookie(ctx: &Ctx, req: &HttpRequest, value: String, age: time::Duration) -> Result<Cookie<'static>> {
    let way = transport::way(req, &ctx.config)?;
    Ok(Cookie::build(way.cookie_name(), value)
        .path("/")
        .secure(way == transport::Way::Https)
        .http_only(true)
        .same_site(SameSite::Lax)
        .max_age(age)
        .finish())
}

#[derive(Deserialize)]
struct Nothing {}

#[post("/sign-out")]
pub async fn sign_out(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    visitor: Visitor,
    _form: Form<Nothing>,
) -> Result<HttpResponse> {
    if let Some(session) = visitor.0 {
        actions::end_session(&ctx, &session.who.actor(), session.who.session).await?;
    }
    let mut answer = see_other("/sign-in");
    let gone = cookie(&ctx, &req, String::new(), time::Duration::ZERO)?;
    answer.add_cookie(&gone).map_err(|err| Problem::failed("a cookie", err))?;
    Ok(answer)
}

#[derive(Template)]
#[template(path = "accounts/account.html")]
struct AccountPage {
    page: Page,
    lead: String,
    said: Option<Words>,
    login_name: String,
    shown_name: String,
    /// With what is to be said of it.
    email: String,
    clubs: Vec<ClubLine>,
    /// Clubs in which roles wait for a second factor.
    waiting: Vec<ClubLine>,
    factor: String,
    telling: telling::TellingPart,
    sessions: Vec<SessionLine>,
    devices: Vec<DeviceLine>,
}

impl AccountPage {
    fn has_others(&self) -> bool {
        self.sessions.iter().any(|session| !session.here)
    }
}

struct DeviceLine {
    stream: Uuid,
    id: Uuid,
    room: String,
    what: String,
    since: String,
}

struct ClubLine {
    name: String,
    roles: String,
}

struct SessionLine {
    id: Uuid,
    what: String,
    here: bool,
    since: String,
    last_seen: String,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Done {
    ended: Option<String>,
}

#[get("/account")]
pub async fn account(
    ctx: web::Data<Ctx>,
    session: PageSession,
    said: web::Query<Done>,
) -> Result<HttpResponse> {
    let (conn, who) = (&ctx.db.conn, session.who);
    let account = store::account(conn, who.account).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let line = |row: crate::entities::sessions::Model| SessionLine {
        id: row.id,
        here: row.id == who.session,
        since: html::day_and_time(row.started_ms),
        last_seen: html::day_and_time(row.last_seen_ms),
        what: row.what,
    };
    let sessions: Vec<_> = store::sessions_of(conn, who.account).await?.into_iter().map(line).collect();
    let factor = actions::factor(&ctx, &who).await?;
    let has_factor = matches!(factor, Factor::On { .. });
    let clubs = store::memberships_of(conn, who.account, has_factor).await?.into_iter();
    let (waiting, clubs): (Vec<_>, Vec<_>) = clubs.partition(|of| of.waits);
    let devices = store::devices_of(conn, who.account).await?.into_iter();
    let line_of = |of: store::Membership| ClubLine {
        name: of.club.name,
        roles: if of.roles.is_empty() { "member".into() } else { of.roles.join(", ").replace('_', " ") },
    };
    render(&AccountPage {
        page: Page::of(&ctx, &session, "Account", "/account"),
        lead: in_words(sessions.len()),
        said: said.ended.as_deref().map(|what| {
            Words::plain(match what {
                "device" => "The device has ended, and the session that it came in. It writes no more.",
                _ => "All other sessions have ended.",
            })
        }),
        email: match (account.email.as_str(), store::is_proven(conn, &account).await?) {
            ("", _) => "none given".into(),
            (email, true) => format!("{email}, proven"),
            (email, false) => format!("{email}, not proven"),
        },
        login_name: account.login_name,
        shown_name: account.shown_name,
        clubs: clubs.into_iter().map(line_of).collect(),
        waiting: waiting.into_iter().map(line_of).collect(),
        factor: match factor {
            Factor::On { .. } => "On: you sign in with a code beside your password.".into(),
            Factor::Off => "Off: who learns your password can sign in as you.".into(),
            Factor::Begun => "Begun: it counts once you type a first code.".into(),
        },
        devices: devices
            .map(|(device, room)| DeviceLine {
                stream: device.stream,
                id: device.device,
                room,
                what: device.name,
                since: html::day_and_time(device.registered_ms),
            })
            .collect(),
        telling: actions::telling(&ctx, who.account).await?.into(),
        sessions,
    })
}

fn in_words(sessions: usize) -> String {
    match sessions {
        1 => "You are signed in here and nowhere else.".into(),
        many => format!("You are signed in {many} times."),
    }
}

#[derive(Deserialize)]
struct Which {
    session: Uuid,
}

#[post("/account/sessions/end")]
pub async fn end_session(
    ctx: web::Data<Ctx>,
    session: PageSession,
    form: Form<Which>,
) -> Result<HttpResponse> {
    actions::end_session(&ctx, &session.who.actor(), form.fields.session).await?;
    Ok(see_other("/account"))
}

#[post("/account/sessions/end-others")]
pub async fn end_other_sessions(
    ctx: web::Data<Ctx>,
    session: PageSession,
    _form: Form<Nothing>,
) -> Result<HttpResponse> {
    actions::end_other_sessions(&ctx, &session.who).await?;
    Ok(see_other("/account?ended=1#sessions"))
}
