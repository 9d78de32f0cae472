//! How somebody is told: the digest, its proof, and the calendar with its secret address.

use actix_web::http::Method;
use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, REFERRER_POLICY};
use actix_web::{HttpRequest, HttpResponse, get, post, route, web};
use askama::Template;
use serde::Deserialize;

use crate::accounts::actions::{self, Digest, MORNING, Telling};
use crate::platform::csrf::{Form, OpenForm};
use crate::platform::html::{self, Link, Page, render, see_other};
use crate::platform::{Ctx, PageSession, Result, Visitor, transport};

const BACK: &str = "/account#telling";

/// The pages of this file.
pub fn told_how(cfg: &mut web::ServiceConfig) {
    cfg.service(set_digest).service(asked).service(proved).service(new_calendar).service(end_calendar);
    cfg.service(calendar);
}

/// What the account's page says of it.
pub struct TellingPart {
    /// How the digest stands.
    pub digest: String,
    /// What the button about it does: `on` or `off`; none without mail.
    pub turns: Option<&'static str>,
    /// How the calendar stands.
    pub calendar: String,
    /// Whether there is one.
    pub has_calendar: bool,
}

impl From<Telling> for TellingPart {
    fn from(told: Telling) -> Self {
        let morning = format!("at {MORNING} in the morning, {}", told.zone.replace('_', " "));
        let digest = match told.digest {
            _ if !told.has_mail => "This server sends no mail. What there is to tell stands under Messages.".into(),
            Digest::Off => format!("No mail is sent to you. A digest would come once a day {morning}, and only when there is something to tell."),
            Digest::Asked => "A letter was sent to your address. Open the link in it and press the button there: then the digest begins.".into(),
            Digest::On(at) => {
                format!("Once a day {morning}, when there is something to tell. Not before {}.", html::day_and_time(at))
            }
        };
        let about_calendar = match told.calendar_ms {
            Some(at) => format!(
                "Your calendar has had its address since {}. Whoever has the address can read it. It was shown once; \
                 if you don\u{2019}t have it any more, make a new one.",
                html::day_and_time(at)
            ),
            None => "A calendar program can show the days on which something of your rooms is due. It reads them at a \
                secret address."
                .into(),
        };
        Self {
            digest,
            turns: told.has_mail.then_some(if told.digest == Digest::Off { "on" } else { "off" }),
            calendar: about_calendar,
            has_calendar: told.calendar_ms.is_some(),
        }
    }
}

#[derive(Deserialize)]
struct Turned {
    digest: String,
}

#[post("/account/digest")]
async fn set_digest(ctx: web::Data<Ctx>, session: PageSession, form: Form<Turned>) -> Result<HttpResponse> {
    actions::set_digest(&ctx, &session.who, form.fields.digest == "on").await?;
    Ok(see_other(BACK))
}

#[derive(Template)]
#[template(path = "accounts/digest.html")]
struct DigestPage {
    page: Page,
    lead: String,
    /// What the button sends; none once it was pressed.
    token: Option<String>,
    on: Option<Link>,
}

#[derive(Deserialize)]
struct Token {
    token: String,
}

/// Only shows a button: a program that follows links in mail agrees to nothing.
#[get("/account/digest")]
async fn asked(ctx: web::Data<Ctx>, visitor: Visitor, query: web::Query<Token>) -> Result<HttpResponse> {
    let address = actions::asked_address(&ctx, &query.token).await?;
    render(&DigestPage {
        page: Page::for_visitor(&ctx, &visitor, "A digest by mail"),
        lead: format!(
            "Once a morning, when there is something to tell, to {address}. Press the button if you want it."
        ),
        token: Some(query.into_inner().token),
        on: None,
    })
}

#[post("/account/digest/proved")]
async fn proved(ctx: web::Data<Ctx>, visitor: Visitor, form: OpenForm<Token>) -> Result<HttpResponse> {
    actions::prove_address(&ctx, &form.fields.token).await?;
    render(&DigestPage {
        page: Page::for_visitor(&ctx, &visitor, "The digest is on"),
        lead:
            "It comes once a morning when there is something to tell. The account\u{2019}s page turns it off."
                .into(),
        token: None,
        on: Some(Link { href: BACK.into(), words: "To the account".into() }),
    })
}

#[derive(Template)]
#[template(path = "accounts/calendar.html")]
struct CalendarPage {
    page: Page,
    address: String,
}

#[derive(Deserialize)]
struct Nothing {}

/// Not sent on to another page: the address is shown here, once.
#[post("/account/calendar")]
async fn new_calendar(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    _form: Form<Nothing>,
) -> Result<HttpResponse> {
    let path = actions::new_calendar(&ctx, &session.who).await?;
    render(&CalendarPage {
        page: Page::of(&ctx, &session, "Your calendar\u{2019}s address", "/account"),
        address: format!("{}{path}", transport::own_origin(&req, &ctx.config)),
    })
}

#[post("/account/calendar/end")]
async fn end_calendar(
    ctx: web::Data<Ctx>,
    session: PageSession,
    _form: Form<Nothing>,
) -> Result<HttpResponse> {
    actions::end_calendar(&ctx, &session.who).await?;
    Ok(see_other(BACK))
}

/// The calendar itself, for programs. Anybody who has its address may read it; a wrong one and one that has ended
/// are told alike.
#[route("/calendar/{secret}.ics", method = "GET", method = "HEAD")]
async fn calendar(ctx: web::Data<Ctx>, req: HttpRequest, path: web::Path<String>) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    let text = actions::calendar(&ctx, &path, address).await?;
    let mut answer = HttpResponse::Ok();
    answer
        .insert_header((CONTENT_TYPE, "text/calendar; charset=utf-8"))
        .insert_header((CONTENT_DISPOSITION, "inline; filename=\"tarn.ics\""))
        .insert_header((CACHE_CONTROL, "private, max-age=300"))
        .insert_header((REFERRER_POLICY, "no-referrer"));
    Ok(if req.method() == Method::HEAD { answer.finish() } else { answer.body(text) })
}
