//! The page on which a secretary reads what was done in the club.

use actix_web::{HttpResponse, get, web};
use askama::Template;
use serde::Deserialize;
use uuid::Uuid;

use super::{HERE, Reader};
use crate::clubs::actions::{self, Audit, Doer};
use crate::platform::errors::NOT_FOUND;
use crate::platform::html::{Link, Page, day_and_time, render};
use crate::platform::{Ctx, PageSession, Problem, Result, audit};

const MOST: u64 = 50;

#[derive(Template)]
#[template(path = "clubs/audit.html")]
struct AuditPage {
    page: Page,
    lead: String,
    /// The seal that was asked for, or the newest, in words; and its hash.
    sealed: String,
    hash: Option<String>,
    asked: String,
    here: String,
    lines: Vec<Line>,
    older: Option<Link>,
}

struct Line {
    when: String,
    who: String,
    what: String,
    sealed: String,
}

#[derive(Deserialize)]
struct Asked {
    after: Option<String>,
    seal: Option<String>,
}

#[get("/clubs/{club}/audit")]
pub async fn show_audit(
    ctx: web::Data<Ctx>,
    session: PageSession,
    club: web::Path<Uuid>,
    asked: web::Query<Asked>,
) -> Result<HttpResponse> {
    Reader::secretary(&ctx, &session, *club).await?;
    let place = |cursor: &String| actions::audit_place(cursor).ok_or_else(|| Problem::new(&NOT_FOUND));
    let after = asked.after.as_ref().map(place).transpose()?;
    let typed = asked.seal.as_deref().map(str::trim).filter(|typed| !typed.is_empty());
    // what is no number is the number of no seal
    let seal = typed.map(|typed| typed.parse().unwrap_or(0));
    let all = actions::audit(&ctx, *club, after, MOST, seal).await?;
    let here = format!("{HERE}/{club}/audit");
    let mut page = Page::of(&ctx, &session, "What was done", HERE);
    page.place.clone_from(&all.club);
    render(&AuditPage {
        page,
        lead: lead(&all, after.is_some()),
        sealed: sealed(&all, typed),
        hash: all.seal.as_ref().map(audit::in_groups),
        asked: typed.unwrap_or_default().to_owned(),
        older: all
            .next
            .map(|next| Link { href: format!("{here}?after={next}"), words: "What was done before".into() }),
        here,
        lines: all.done.into_iter().map(|done| line(&done)).collect(),
    })
}

fn lead(all: &Audit, later: bool) -> String {
    match all.done.len() {
        0 if later => "Nothing was done before.".into(),
        0 => format!("Nothing was done in {} yet.", all.club),
        _ => format!("What officers, stewards and the operator did in {}.", all.club),
    }
}

fn sealed(all: &Audit, asked: Option<&str>) -> String {
    match (&all.seal, asked) {
        (Some(seal), Some(_)) => format!("Seal {}, made {}:", seal.number, day_and_time(seal.at_ms)),
        (Some(seal), None) => {
            format!("The newest seal is {}, made {}:", seal.number, day_and_time(seal.at_ms))
        }
        (None, Some(typed)) => format!("There is no seal {typed}."),
        (None, None) => "There is no seal yet; the first is made within a minute.".into(),
    }
}

fn line(done: &actions::Done) -> Line {
    let who = match &done.by {
        Doer::Server => "The server".into(),
        Doer::Operator => "The operator".into(),
        by => by.words().to_owned(),
    };
    let sealed = match done.fact.seal {
        Some(number) => format!("seal {number}"),
        None => "not sealed yet".into(),
    };
    Line { when: day_and_time(done.fact.at_ms), who, what: done.words.clone(), sealed }
}
