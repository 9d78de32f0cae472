//! Pages for who forgot their password, and for who signs up: each asks for a letter, and has a page that the link in it
//! opens. Only the button on that uses the link.

use actix_web::{HttpRequest, HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;

use super::factor::came_back;
use super::with_cookie;
use crate::accounts::actions::{self, SignUp};
use crate::accounts::refusals::NO_MAIL;
use crate::platform::csrf::OpenForm;
use crate::platform::html::{Field, FormErrors, Link, Page, render, render_refused, see_other};
use crate::platform::{Ctx, Problem, Result, Visitor, transport};

/// The pages of this file.
pub fn by_letter(cfg: &mut web::ServiceConfig) {
    cfg.service(forgotten).service(ask_reset).service(reset_form).service(reset);
    cfg.service(sign_up_form).service(ask_sign_up).service(welcome).service(sign_up);
}

/// Asks for a letter.
#[derive(Template)]
#[template(path = "accounts/ask_letter.html")]
struct AskPage {
    page: Page,
    lead: &'static str,
    not: &'static str,
    errors: Option<FormErrors>,
    action: &'static str,
    field: Field,
    kind: &'static str,
    autocomplete: &'static str,
}

/// Says that something was done, alike for everybody.
#[derive(Template)]
#[template(path = "accounts/told.html")]
struct ToldPage {
    page: Page,
    lead: &'static str,
    more: &'static str,
    on: Link,
}

fn forgotten_page(ctx: &Ctx, typed: &str, problem: Option<&Problem>) -> AskPage {
    AskPage {
        page: Page::plain(ctx, "Forgotten password"),
        lead: "A letter to your address brings a link by which you take another password.",
        not: "No letter sent",
        errors: problem.map(|problem| FormErrors::of("No letter sent", problem)),
        action: "/forgotten",
        field: Field::new("who", "Login name or address").typed(typed, problem),
        kind: "text",
        autocomplete: "username",
    }
}

fn must_have_mail(ctx: &Ctx) -> Result<()> {
    if ctx.post.is_some() { Ok(()) } else { Err(Problem::new(&NO_MAIL)) }
}

#[get("/forgotten")]
async fn forgotten(ctx: web::Data<Ctx>, _visitor: Visitor) -> Result<HttpResponse> {
    must_have_mail(&ctx)?;
    render(&forgotten_page(&ctx, "", None))
}

#[derive(Deserialize)]
struct Who {
    #[serde(default)]
    who: String,
}

#[post("/forgotten")]
async fn ask_reset(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    _visitor: Visitor,
    form: OpenForm<Who>,
) -> Result<HttpResponse> {
    let who = &form.fields.who;
    match actions::ask_reset(&ctx, who, transport::visitor_address(&req, &ctx.config)).await {
        Ok(()) => render(&ToldPage {
            page: Page::plain(&ctx, "Look into your mail"),
            lead: "If somebody here has this name or address, and the address is proven, a letter is on its way.",
            more: "Its link is good for six hours. If no letter comes, look whether one came within the last hours, or \
                ask an officer of your club to have the password reset.",
            on: Link { href: "/sign-in".into(), words: "To sign in".into() },
        }),
        Err(problem) => came_back(problem, |problem| forgotten_page(&ctx, who, Some(problem))),
    }
}

#[derive(Template)]
#[template(path = "accounts/reset.html")]
struct ResetPage {
    page: Page,
    lead: String,
    errors: Option<FormErrors>,
    token: String,
    new: Field,
}

async fn reset_page(
    ctx: &Ctx,
    req: &HttpRequest,
    token: &str,
    problem: Option<&Problem>,
) -> Result<ResetPage> {
    let address = transport::visitor_address(req, &ctx.config);
    let (person, has_factor) = actions::whose_reset(ctx, token, address).await?;
    let then = if has_factor { " Your second factor stays: you sign in with a code as before." } else { "" };
    let long = if has_factor { "8 signs or more, beside your second factor." } else { "15 signs or more." };
    Ok(ResetPage {
        page: Page::plain(ctx, "Another password"),
        lead: format!("For {}. All sessions end.{then}", person.login_name),
        errors: problem.map(|problem| FormErrors::of("Not changed", problem)),
        token: token.to_owned(),
        new: Field::new("new_password", "New password")
            .hint(format!("{long} Several words in a row are easy to keep in mind."))
            .typed("", problem),
    })
}

#[derive(Deserialize)]
struct Token {
    token: String,
}

#[get("/reset")]
async fn reset_form(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    _visitor: Visitor,
    query: web::Query<Token>,
) -> Result<HttpResponse> {
    render(&reset_page(&ctx, &req, &query.token, None).await?)
}

#[derive(Deserialize)]
struct NewPassword {
    token: String,
    #[serde(default)]
    new_password: String,
}

#[post("/reset")]
async fn reset(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    _visitor: Visitor,
    form: OpenForm<NewPassword>,
) -> Result<HttpResponse> {
    let (address, typed) = (transport::visitor_address(&req, &ctx.config), &form.fields);
    match actions::reset_by_link(&ctx, &typed.token, address, &typed.new_password).await {
        Ok(()) => render(&ToldPage {
            page: Page::plain(&ctx, "Your password is changed"),
            lead: "All sessions have ended. Sign in with the new password.",
            more: "A second factor, if you have one, is asked for as before.",
            on: Link { href: "/sign-in".into(), words: "To sign in".into() },
        }),
        Err(problem) if !problem.faults().is_empty() => {
            let page = reset_page(&ctx, &req, &typed.token, Some(&problem)).await?;
            came_back(problem, |_| page)
        }
        Err(problem) => Err(problem),
    }
}

fn sign_up_page(ctx: &Ctx, typed: &str, problem: Option<&Problem>) -> AskPage {
    AskPage {
        page: Page::plain(ctx, "An account"),
        lead: "A letter to your address brings a link by which you make your account.",
        not: "No letter sent",
        errors: problem.map(|problem| FormErrors::of("No letter sent", problem)),
        action: "/sign-up",
        field: Field::new("email", "E-mail").typed(typed, problem),
        kind: "email",
        autocomplete: "email",
    }
}

#[get("/sign-up")]
async fn sign_up_form(ctx: web::Data<Ctx>, _visitor: Visitor) -> Result<HttpResponse> {
    actions::is_open(&ctx)?;
    render(&sign_up_page(&ctx, "", None))
}

#[derive(Deserialize)]
struct Email {
    #[serde(default)]
    email: String,
}

#[post("/sign-up")]
async fn ask_sign_up(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    _visitor: Visitor,
    form: OpenForm<Email>,
) -> Result<HttpResponse> {
    actions::is_open(&ctx)?;
    let email = &form.fields.email;
    match actions::ask_sign_up(&ctx, email, transport::visitor_address(&req, &ctx.config)).await {
        Ok(()) => render(&ToldPage {
            page: Page::plain(&ctx, "Look into your mail"),
            lead: "A letter is on its way. Open the link in it to make your account.",
            more: "The link is good for a day. If no letter comes, look whether one came within the last hours.",
            on: Link { href: "/sign-in".into(), words: "To sign in".into() },
        }),
        Err(problem) => came_back(problem, |problem| sign_up_page(&ctx, email, Some(problem))),
    }
}

#[derive(Template)]
#[template(path = "accounts/welcome.html")]
struct WelcomePage {
    page: Page,
    lead: String,
    errors: Option<FormErrors>,
    token: String,
    login_name: Field,
    shown_name: Field,
    password: Field,
}

#[derive(Default, Deserialize)]
struct Typed {
    token: String,
    #[serde(default)]
    login_name: String,
    #[serde(default)]
    shown_name: String,
    #[serde(default)]
    password: String,
}

async fn welcome_page(
    ctx: &Ctx,
    req: &HttpRequest,
    typed: &Typed,
    problem: Option<&Problem>,
) -> Result<WelcomePage> {
    let address = transport::visitor_address(req, &ctx.config);
    let email = actions::address_of_sign_up(ctx, &typed.token, address).await?;
    Ok(WelcomePage {
        page: Page::plain(ctx, "Your account"),
        lead: format!(
            "With {email}, which is proven by the letter. You can join a club later, by its invitation."
        ),
        errors: problem.map(|problem| FormErrors::of("No account made", problem)),
        token: typed.token.clone(),
        login_name: Field::new("login_name", "Login name")
            .hint("What you sign in with: letters a to z, digits, - _ and the full stop.")
            .typed(&typed.login_name, problem),
        shown_name: Field::new("shown_name", "Shown name")
            .hint("What others read.")
            .typed(&typed.shown_name, problem),
        password: Field::new("password", "Password")
            .hint("15 signs or more. Several words in a row are easy to keep in mind.")
            .typed("", problem),
    })
}

#[get("/welcome")]
async fn welcome(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    _visitor: Visitor,
    query: web::Query<Token>,
) -> Result<HttpResponse> {
    let typed = Typed { token: query.into_inner().token, ..Typed::default() };
    render(&welcome_page(&ctx, &req, &typed, None).await?)
}

#[post("/welcome")]
async fn sign_up(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    _visitor: Visitor,
    form: OpenForm<Typed>,
) -> Result<HttpResponse> {
    let typed = &form.fields;
    let wanted = SignUp {
        token: &typed.token,
        login_name: &typed.login_name,
        shown_name: &typed.shown_name,
        password: &typed.password,
        address: transport::visitor_address(&req, &ctx.config),
        what: crate::accounts::what(&req),
        browser: true,
    };
    match actions::sign_up(&ctx, wanted).await {
        Ok(opened) => with_cookie(&ctx, &req, opened.session, see_other("/")).await,
        Err(problem) if !problem.faults().is_empty() => {
            let page = welcome_page(&ctx, &req, typed, Some(&problem)).await?;
            render_refused(&problem, &page)
        }
        Err(problem) => Err(problem),
    }
}
