//! The page of those under age for whom somebody answers.

use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION};
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;
use uuid::Uuid;

use super::factor::{came_back, code_field};
use crate::accounts::actions::Shown;
use crate::accounts::{actions, store};
use crate::platform::csrf::Form;
use crate::platform::html::{Field, FormErrors, Link, Page, day_and_time, render, see_other};
use crate::platform::{Ctx, PageSession, Problem, Result, transport};

const HERE: &str = "/account/young";

/// The pages of this file.
pub fn in_care(cfg: &mut web::ServiceConfig) {
    cfg.service(show).service(end_sessions).service(set_password).service(data).service(close);
    cfg.service(of_age);
}

#[derive(Template)]
#[template(path = "accounts/young.html")]
struct YoungPage {
    page: Page,
    lead: String,
    said: Option<&'static str>,
    errors: Option<FormErrors>,
    young: Vec<YoungLine>,
    /// One for each club of the reader.
    make: Vec<Link>,
    password: Field,
    new: Field,
    /// Where the reader has a second factor.
    code: Option<Field>,
}

struct YoungLine {
    account: Uuid,
    name: String,
    login_name: String,
    since: String,
    sessions: Vec<String>,
}

impl YoungPage {
    async fn new(ctx: &Ctx, session: &PageSession, problem: Option<&Problem>) -> Result<Self> {
        let wards = actions::wards(ctx, session.who.account).await?;
        let has_factor = store::has_factor(&ctx.db.conn, session.who.account).await?;
        let clubs = store::clubs_of(&ctx.db.conn, session.who.account).await?;
        let lead = match wards.len() {
            0 => "You answer for nobody under age.".to_owned(),
            1 => "You answer for one who is under age.".to_owned(),
            many => format!("You answer for {many} who are under age."),
        };
        let line = |ward: actions::Ward| YoungLine {
            account: ward.account.id,
            name: ward.young.name,
            login_name: ward.account.login_name,
            since: day_and_time(ward.young.since_ms),
            sessions: ward
                .sessions
                .into_iter()
                .map(|row| format!("{}, last seen {}", row.what, day_and_time(row.last_seen_ms)))
                .collect(),
        };
        Ok(Self {
            page: Page::of(ctx, session, "In your care", "/account"),
            lead,
            said: None,
            errors: problem.map(|problem| FormErrors::of("Not done", problem)),
            young: wards.into_iter().map(line).collect(),
            make: clubs
                .into_iter()
                .map(|(club, _)| Link {
                    href: format!("/clubs/{}/young", club.id),
                    words: format!("Make an account in {}", club.name),
                })
                .collect(),
            password: Field::new("password", "Your own password").typed("", problem),
            new: Field::new("new_password", "New password of the young one")
                .hint("15 signs or more.")
                .typed("", problem),
            code: has_factor
                .then(|| code_field(problem).hint("Six digits from your phone, or a recovery code.")),
        })
    }
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Done {
    done: Option<String>,
}

#[get("/account/young")]
async fn show(ctx: web::Data<Ctx>, session: PageSession, done: web::Query<Done>) -> Result<HttpResponse> {
    let said = match done.done.as_deref() {
        Some("made") => Some("The account is made. Others read “a young member” in the place of the name."),
        Some("ended") => Some("They are signed out everywhere."),
        Some("password") => Some("The password is changed. They are signed out everywhere."),
        Some("closed") => Some("The account is closed."),
        Some("grown") => Some("They are of age, and stand for themselves."),
        _ => None,
    };
    render(&YoungPage { said, ..YoungPage::new(&ctx, &session, None).await? })
}

#[derive(Deserialize)]
struct Nothing {}

fn done(what: &str) -> HttpResponse {
    see_other(&format!("{HERE}?done={what}"))
}

#[post("/account/young/{account}/sessions/end")]
async fn end_sessions(
    ctx: web::Data<Ctx>,
    session: PageSession,
    account: web::Path<Uuid>,
    _form: Form<Nothing>,
) -> Result<HttpResponse> {
    actions::end_sessions_of_young(&ctx, &session.who, *account).await?;
    Ok(done("ended"))
}

#[derive(Deserialize)]
struct Passwords {
    #[serde(default)]
    password: String,
    #[serde(default)]
    new_password: String,
    code: Option<String>,
}

impl Passwords {
    fn own(&self) -> Shown<'_> {
        Shown { password: &self.password, code: self.code.as_deref() }
    }
}

#[post("/account/young/{account}/password")]
async fn set_password(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    account: web::Path<Uuid>,
    form: Form<Passwords>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    let both = (form.fields.own(), form.fields.new_password.as_str());
    match actions::new_password_of_young(&ctx, &session.who, address, *account, both).await {
        Ok(()) => Ok(done("password")),
        Err(problem) => again(&ctx, &session, problem).await,
    }
}

async fn again(ctx: &Ctx, session: &PageSession, problem: Problem) -> Result<HttpResponse> {
    let page = YoungPage::new(ctx, session, Some(&problem)).await?;
    came_back(problem, |_| page)
}

#[get("/account/young/{account}/data.json")]
async fn data(ctx: web::Data<Ctx>, session: PageSession, account: web::Path<Uuid>) -> Result<HttpResponse> {
    let all = actions::data_of_young(&ctx, session.who.account, *account).await?;
    Ok(HttpResponse::Ok()
        .insert_header((CACHE_CONTROL, "no-store"))
        .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"in-my-care.json\""))
        .json(all))
}

#[post("/account/young/{account}/leave")]
async fn close(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    account: web::Path<Uuid>,
    form: Form<Passwords>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    match actions::close_young(&ctx, &session.who, address, *account, form.fields.own()).await {
        Ok(()) => Ok(done("closed")),
        Err(problem) => again(&ctx, &session, problem).await,
    }
}

#[post("/account/young/{account}/of-age")]
async fn of_age(
    ctx: web::Data<Ctx>,
    session: PageSession,
    account: web::Path<Uuid>,
    _form: Form<Nothing>,
) -> Result<HttpResponse> {
    actions::of_age(&ctx, &session.who, *account).await?;
    Ok(done("grown"))
}
