//! The board, one notice, and the form of it.

use actix_web::{HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::parcels::NoticeKind;
use tarn_domain::streams::{AccountId, parse_uuid};
use uuid::Uuid;

use super::{MOST, is_for_the_form, new_id, place, status, wall};
use crate::accounts;
use crate::parcels::actions::notices::{self, End, NewNotice, Search, board, offerable, read};
use crate::parcels::actions::threads;
use crate::parcels::refusals::invalid;
use crate::parcels::views::{
    Found, NoticePage, NoticeParts, TypedNotice, list_page, notice_form, notice_page, typed_notice,
};
use crate::platform::csrf::Form;
use crate::platform::edits::Expected;
use crate::platform::errors::{NOT_FOUND, NOT_THE_NEWEST};
use crate::platform::html::{Page, render, render_as, see_other};
use crate::platform::{Ctx, PageSession, Problem, Result};

const HERE: &str = "/notices";

async fn clubs_of(ctx: &Ctx, session: &PageSession) -> Result<Vec<(String, String)>> {
    let clubs = accounts::store::clubs_of(&ctx.db.conn, session.who.account).await?;
    Ok(clubs.into_iter().map(|(club, _)| (club.id.to_string(), club.name)).collect())
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    q: String,
    kind: String,
    club: String,
    mine: String,
    after: Option<String>,
}

#[get("/notices")]
pub async fn list(
    ctx: web::Data<Ctx>,
    session: PageSession,
    asked: web::Query<Asked>,
) -> Result<HttpResponse> {
    let search = Search {
        words: asked.q.clone(),
        kind: NoticeKind::parse(&asked.kind),
        club: parse_uuid(&asked.club),
        mine: asked.mine == "true",
    };
    let after = place(asked.after.as_deref())?;
    let board = board(&ctx, AccountId(session.who.account), &search, after, MOST).await?;
    let title = if search.mine { "Your notices" } else { "Notices" };
    let page = Page::of(&ctx, &session, title, HERE);
    let found =
        Found { search: &search, board, later: after.is_some(), clubs: clubs_of(&ctx, &session).await? };
    render(&list_page(page, found, wall(&ctx, &session).await?))
}

#[get("/notices/new")]
pub async fn begin(ctx: web::Data<Ctx>, session: PageSession) -> Result<HttpResponse> {
    let typed = TypedNotice::begin(new_id(&ctx));
    form(&ctx, &session, &typed, None, None).await
}

async fn form(
    ctx: &Ctx,
    session: &PageSession,
    typed: &TypedNotice,
    changed: Option<&notices::NoticeLook>,
    problem: Option<&Problem>,
) -> Result<HttpResponse> {
    let title = if changed.is_some() { "Change your notice" } else { "Put up a notice" };
    let page = Page::of(ctx, session, title, HERE);
    let stocks = offerable(ctx, AccountId(session.who.account)).await?;
    let page = notice_form(page, typed, (clubs_of(ctx, session).await?, &stocks), changed, problem);
    match problem {
        Some(problem) => render_as(status(problem), &page),
        None => render(&page),
    }
}

#[post("/notices")]
pub async fn post(
    ctx: web::Data<Ctx>,
    session: PageSession,
    form: Form<TypedNotice>,
) -> Result<HttpResponse> {
    let typed = form.fields;
    match put_up(&ctx, &session, &typed).await {
        Ok(id) => Ok(see_other(&format!("{HERE}/{id}?done=posted"))),
        Err(problem) if is_for_the_form(&problem) => {
            self::form(&ctx, &session, &typed, None, Some(&problem)).await
        }
        Err(problem) => Err(problem),
    }
}

async fn put_up(ctx: &Ctx, session: &PageSession, typed: &TypedNotice) -> Result<Uuid> {
    let notices::Change { says, stock, all_clubs } = typed.read()?;
    let club = typed.club().ok_or_else(|| invalid(vec![("club", "Choose a board.".into())]))?;
    let id = parse_uuid(&typed.id).ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let notice = NewNotice { id, club, says, stock, all_clubs };
    Ok(notices::post(ctx, &session.who, notice).await?.id)
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Done {
    done: Option<String>,
}

#[get("/notices/{notice}")]
pub async fn show(
    ctx: web::Data<Ctx>,
    session: PageSession,
    id: web::Path<Uuid>,
    done: web::Query<Done>,
) -> Result<HttpResponse> {
    render(&page(&ctx, &session, *id, done.done.as_deref(), "", None).await?)
}

async fn page(
    ctx: &Ctx,
    session: &PageSession,
    id: Uuid,
    done: Option<&str>,
    typed: &str,
    problem: Option<(&'static str, &Problem)>,
) -> Result<NoticePage> {
    let account = AccountId(session.who.account);
    let look = read(ctx, account, id).await?;
    let threads = threads::begun(ctx, account, id).await?;
    let parts = NoticeParts {
        look: &look,
        threads: &threads,
        officer: look.stands() && look.is_secretary(ctx, account).await?,
        done,
        typed,
        problem,
        id: new_id(ctx),
        wall: wall(ctx, session).await?,
    };
    Ok(notice_page(|title| Page::of(ctx, session, title, HERE), parts))
}

#[get("/notices/{notice}/edit")]
pub async fn edit(ctx: web::Data<Ctx>, session: PageSession, id: web::Path<Uuid>) -> Result<HttpResponse> {
    let look = own(&ctx, &session, *id).await?;
    form(&ctx, &session, &typed_notice(&look), Some(&look), None).await
}

async fn own(ctx: &Ctx, session: &PageSession, id: Uuid) -> Result<notices::NoticeLook> {
    let look = read(ctx, AccountId(session.who.account), id).await?;
    if look.mine { Ok(look) } else { Err(Problem::new(&NOT_FOUND)) }
}

#[post("/notices/{notice}/edit")]
pub async fn change(
    ctx: web::Data<Ctx>,
    session: PageSession,
    id: web::Path<Uuid>,
    form: Form<TypedNotice>,
) -> Result<HttpResponse> {
    let mut typed = form.fields;
    let expected = typed.version.parse().map_or(Expected::Missing, Expected::version);
    let changed = match typed.read() {
        Ok(change) => notices::change(&ctx, &session.who, *id, &expected, change).await.map(drop),
        Err(problem) => Err(problem),
    };
    match changed {
        Ok(()) => Ok(see_other(&format!("{HERE}/{id}?done=changed"))),
        Err(problem) if is_for_the_form(&problem) => {
            let look = own(&ctx, &session, *id).await?;
            // Sent again, it rests on what stands now: the page has just said that it was changed.
            if problem.kind() == &NOT_THE_NEWEST {
                typed.version = look.row.version.to_string();
            }
            self::form(&ctx, &session, &typed, Some(&look), Some(&problem)).await
        }
        Err(problem) => Err(problem),
    }
}

#[derive(Deserialize)]
struct Ended {
    how: String,
    why: Option<String>,
}

#[post("/notices/{notice}/end")]
pub async fn end(
    ctx: web::Data<Ctx>,
    session: PageSession,
    id: web::Path<Uuid>,
    form: Form<Ended>,
) -> Result<HttpResponse> {
    let how = match form.fields.how.as_str() {
        "done" => End::Done,
        _ => End::TakenDown(form.fields.why.as_deref()),
    };
    match notices::end(&ctx, &session.who, *id, how).await {
        Ok(row) if row.author == session.who.account => Ok(see_other(&format!("{HERE}/{id}?done=ended"))),
        Ok(_) => Ok(see_other(HERE)),
        Err(problem) if is_for_the_form(&problem) => {
            let page = page(&ctx, &session, *id, None, "", Some(("end", &problem))).await?;
            render_as(status(&problem), &page)
        }
        Err(problem) => Err(problem),
    }
}

#[derive(Deserialize)]
struct Nothing {}

#[post("/notices/{notice}/again")]
pub async fn again(
    ctx: web::Data<Ctx>,
    session: PageSession,
    id: web::Path<Uuid>,
    _form: Form<Nothing>,
) -> Result<HttpResponse> {
    match notices::again(&ctx, &session.who, *id).await {
        Ok(_) => Ok(see_other(&format!("{HERE}/{id}?done=again"))),
        Err(problem) if is_for_the_form(&problem) => {
            let page = page(&ctx, &session, *id, None, "", Some(("again", &problem))).await?;
            render_as(status(&problem), &page)
        }
        Err(problem) => Err(problem),
    }
}

#[derive(Deserialize)]
struct Reply {
    id: Uuid,
    #[serde(default)]
    text: String,
}

#[post("/notices/{notice}/replies")]
pub async fn reply(
    ctx: web::Data<Ctx>,
    session: PageSession,
    id: web::Path<Uuid>,
    form: Form<Reply>,
) -> Result<HttpResponse> {
    let Reply { id: line, text } = form.fields;
    match threads::reply(&ctx, &session.who, *id, line, &text).await {
        Ok(thread) => Ok(see_other(&format!("/threads/{}", thread.id))),
        Err(problem) if is_for_the_form(&problem) => {
            let page = page(&ctx, &session, *id, None, &text, Some(("reply", &problem))).await?;
            render_as(status(&problem), &page)
        }
        Err(problem) => Err(problem),
    }
}
