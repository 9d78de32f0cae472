//! The page with somebody's messages.

use actix_web::{HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;
use uuid::Uuid;

use crate::accounts::actions::{self, Messages};
use crate::entities::messages::Model;
use crate::platform::csrf::Form;
use crate::platform::day::Wall;
use crate::platform::errors::NOT_FOUND;
use crate::platform::html::{Link, Page, local_path, render, see_other};
use crate::platform::parts::State;
use crate::platform::{Ctx, PageSession, Problem, Result};

const HERE: &str = "/messages";
const MOST: u64 = 50;

/// The pages of this file.
pub fn told_what(cfg: &mut web::ServiceConfig) {
    cfg.service(show).service(read_one).service(read_all);
}

#[derive(Template)]
#[template(path = "accounts/messages.html")]
struct MessagesPage {
    page: Page,
    lead: String,
    lines: Vec<MessageLine>,
    /// Up to when the page tells; what comes later stays new.
    until: i64,
    older: Option<Link>,
}

impl MessagesPage {
    fn has_new(&self) -> bool {
        self.lines.iter().any(|line| line.new.is_some())
    }
}

struct MessageLine {
    id: Uuid,
    text: String,
    when: String,
    href: Option<String>,
    new: Option<State>,
}

#[derive(Deserialize)]
struct From {
    after: Option<String>,
}

#[get("/messages")]
async fn show(ctx: web::Data<Ctx>, session: PageSession, query: web::Query<From>) -> Result<HttpResponse> {
    let after = match &query.after {
        Some(cursor) => Some(actions::place_of(cursor).ok_or_else(|| Problem::new(&NOT_FOUND))?),
        None => None,
    };
    let account = session.who.account;
    let all = actions::messages(&ctx, account, after, false, MOST).await?;
    let zone = actions::telling(&ctx, account).await?.zone;
    let wall = Wall::new(&zone, ctx.clock.now_ms());
    render(&MessagesPage {
        page: Page::of(&ctx, &session, "Messages", HERE),
        lead: lead(&all, after.is_some()),
        until: all.lines.first().map_or(0, |line| line.made_ms),
        older: all
            .next
            .map(|next| Link { href: format!("{HERE}?after={next}"), words: "Older messages".into() }),
        lines: all.lines.into_iter().map(|line| shown(line, wall)).collect(),
    })
}

fn lead(all: &Messages, older: bool) -> String {
    match all.unread {
        0 if all.lines.is_empty() && !older => "Nobody has told you anything yet.".into(),
        0 => "Nothing new.".into(),
        1 => "One message is new.".into(),
        n => format!("{n} messages are new."),
    }
}

fn shown(line: Model, wall: Wall) -> MessageLine {
    MessageLine {
        id: line.id,
        when: wall.brief(line.made_ms.div_euclid(1000)),
        href: line.href.filter(|href| local_path(href).is_some()),
        new: line.read_ms.is_none().then(|| State::of("new")),
        text: line.text,
    }
}

#[derive(Deserialize)]
struct Which {
    message: Uuid,
}

#[post("/messages/read")]
async fn read_one(ctx: web::Data<Ctx>, session: PageSession, form: Form<Which>) -> Result<HttpResponse> {
    actions::read_message(&ctx, &session.who, form.fields.message).await?;
    Ok(see_other(HERE))
}

#[derive(Deserialize)]
struct Until {
    until: i64,
}

#[post("/messages/all-read")]
async fn read_all(ctx: web::Data<Ctx>, session: PageSession, form: Form<Until>) -> Result<HttpResponse> {
    actions::read_messages(&ctx, &session.who, form.fields.until).await?;
    Ok(see_other(HERE))
}
