//! Pages about the second factor, and the second step of signing in.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, ResponseError, get, post, web};
use askama::Template;
use serde::Deserialize;

use super::{SignInPage, with_cookie};
use crate::accounts::actions::{self, Factor};
use crate::accounts::refusals::SIGN_IN_OVER;
use crate::accounts::views::{Squares, squares};
use crate::platform::csrf::{Form, OpenForm};
use crate::platform::html::{
    Field, FormErrors, Page, day_and_time, local_path, render, render_as, render_refused, see_other,
};
use crate::platform::{Ctx, PageSession, Problem, Result, Visitor, transport};

const HERE: &str = "/account/second-factor";

/// The pages of this file.
pub fn access(cfg: &mut web::ServiceConfig) {
    cfg.service(sign_in_with_code).service(show).service(begin).service(confirm);
    cfg.service(renew).service(end);
}

pub(super) fn code_field(problem: Option<&Problem>) -> Field {
    Field::new("code", "Code").typed("", problem)
}

#[derive(Template)]
#[template(path = "accounts/code.html")]
pub(super) struct CodePage {
    page: Page,
    errors: Option<FormErrors>,
    pending: String,
    next: String,
    code: Field,
}

impl CodePage {
    pub(super) fn new(ctx: &Ctx, pending: &str, next: &str, problem: Option<&Problem>) -> Self {
        Self {
            page: Page::plain(ctx, "Sign in").at("Your rooms and clubs"),
            errors: problem.map(|problem| FormErrors::of("Not signed in", problem)),
            pending: pending.to_owned(),
            next: next.to_owned(),
            code: code_field(problem).hint("Six digits from your phone, or a recovery code."),
        }
    }
}

#[derive(Deserialize)]
struct SecondStep {
    pending: String,
    code: String,
    #[serde(default)]
    next: String,
}

#[post("/sign-in/code")]
async fn sign_in_with_code(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    _visitor: Visitor,
    form: OpenForm<SecondStep>,
) -> Result<HttpResponse> {
    let typed = &form.fields;
    let next = local_path(&typed.next).unwrap_or("/");
    let from = (transport::visitor_address(&req, &ctx.config), crate::accounts::what(&req));
    match actions::sign_in_with_code(&ctx, &typed.pending, &typed.code, from).await {
        Ok(opened) => with_cookie(&ctx, &req, opened.session, see_other(next)).await,
        Err(problem) if problem.kind() == &SIGN_IN_OVER => {
            render_as(StatusCode::UNAUTHORIZED, &SignInPage::new(&ctx, next, "", Some(&problem)))
        }
        Err(problem) => {
            came_back(problem, |problem| CodePage::new(&ctx, &typed.pending, next, Some(problem)))
        }
    }
}

/// A form again with what is wrong on it; what is our fault is told otherwise.
pub(super) fn came_back<T: Template>(
    problem: Problem,
    page: impl FnOnce(&Problem) -> T,
) -> Result<HttpResponse> {
    if problem.status_code().is_client_error() {
        render_refused(&problem, &page(&problem))
    } else {
        Err(problem)
    }
}

#[derive(Template)]
#[template(path = "accounts/factor.html")]
struct FactorPage {
    page: Page,
    lead: String,
    said: Option<&'static str>,
    errors: Option<FormErrors>,
    is_on: bool,
    is_begun: bool,
    /// For beginning, and for what is done with a password and a code.
    password: Field,
    code: Field,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Done {
    ended: Option<String>,
}

#[get("/account/second-factor")]
async fn show(ctx: web::Data<Ctx>, session: PageSession, done: web::Query<Done>) -> Result<HttpResponse> {
    let factor = actions::factor(&ctx, &session.who).await?;
    let said = done.ended.is_some().then_some("The second factor is gone. All other sessions have ended.");
    render(&FactorPage { said, ..page(&ctx, &session, &factor, None) })
}

fn page(ctx: &Ctx, session: &PageSession, factor: &Factor, problem: Option<&Problem>) -> FactorPage {
    let lead = match factor {
        Factor::Off => "You sign in with your password alone.".to_owned(),
        Factor::Begun => "A secret was shown. It counts once you type a first code.".to_owned(),
        Factor::On { since_ms, codes_left } => format!(
            "You sign in with a code beside your password, since {}. {}",
            day_and_time(*since_ms),
            left(*codes_left)
        ),
    };
    FactorPage {
        page: Page::of(ctx, session, "Second factor", "/account"),
        lead,
        said: None,
        errors: problem.map(|problem| FormErrors::of("Not done", problem)),
        is_on: matches!(factor, Factor::On { .. }),
        is_begun: *factor == Factor::Begun,
        password: Field::new("password", "Password").typed("", problem),
        code: code_field(problem).hint("Six digits from your phone, or a recovery code."),
    }
}

fn left(codes: u64) -> String {
    match codes {
        0 => "No recovery code is left: make new ones.".into(),
        1 => "One recovery code is left.".into(),
        many => format!("{many} recovery codes are left."),
    }
}

#[derive(Template)]
#[template(path = "accounts/factor_secret.html")]
struct SecretPage {
    page: Page,
    written: String,
    uri: String,
    picture: Squares,
    code: Field,
}

#[derive(Deserialize)]
struct Again {
    #[serde(default)]
    password: String,
}

/// Not sent on to another page: the secret is shown here, once.
#[post("/account/second-factor")]
async fn begin(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    form: Form<Again>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    match actions::begin_factor(&ctx, &session.who, address, &form.fields.password).await {
        Ok(secret) => render(&SecretPage {
            page: Page::of(&ctx, &session, "Your second factor", "/account"),
            picture: squares(&secret.uri)?,
            written: secret.written,
            uri: secret.uri,
            code: code_field(None).hint("The six digits that your phone shows now."),
        }),
        Err(problem) => again(&ctx, &session, problem).await,
    }
}

async fn again(ctx: &Ctx, session: &PageSession, problem: Problem) -> Result<HttpResponse> {
    let factor = actions::factor(ctx, &session.who).await?;
    came_back(problem, |problem| page(ctx, session, &factor, Some(problem)))
}

#[derive(Template)]
#[template(path = "accounts/recovery.html")]
struct RecoveryPage {
    page: Page,
    lead: &'static str,
    codes: Vec<String>,
}

impl RecoveryPage {
    fn new(ctx: &Ctx, session: &PageSession, lead: &'static str, codes: Vec<String>) -> Self {
        Self { page: Page::of(ctx, session, "Recovery codes", "/account"), lead, codes }
    }
}

#[derive(Deserialize)]
struct FirstCode {
    #[serde(default)]
    code: String,
}

#[post("/account/second-factor/confirm")]
async fn confirm(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    form: Form<FirstCode>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    match actions::confirm_factor(&ctx, &session.who, address, &form.fields.code).await {
        Ok(codes) => {
            let lead = "Your second factor is on. All other sessions have ended.";
            render(&RecoveryPage::new(&ctx, &session, lead, codes))
        }
        Err(problem) => again(&ctx, &session, problem).await,
    }
}

#[derive(Deserialize)]
struct Both {
    #[serde(default)]
    password: String,
    #[serde(default)]
    code: String,
}

#[post("/account/second-factor/recovery-codes")]
async fn renew(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    form: Form<Both>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    let both = (form.fields.password.as_str(), form.fields.code.as_str());
    match actions::renew_codes(&ctx, &session.who, address, both).await {
        Ok(codes) => {
            let lead = "These are new. Those of before are good no more.";
            render(&RecoveryPage::new(&ctx, &session, lead, codes))
        }
        Err(problem) => again(&ctx, &session, problem).await,
    }
}

#[post("/account/second-factor/end")]
async fn end(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    form: Form<Both>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    let both = (form.fields.password.as_str(), form.fields.code.as_str());
    match actions::end_factor(&ctx, &session.who, address, both).await {
        Ok(()) => Ok(see_other(&format!("{HERE}?ended=1"))),
        Err(problem) => again(&ctx, &session, problem).await,
    }
}
