//! Swaps: the list, one, and the form of a proposal.

use actix_web::{HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::parcels::{SwapSide, SwapState};
use tarn_domain::streams::{AccountId, parse_uuid};
use uuid::Uuid;

use super::threads::Said;
use super::{MOST, is_for_the_form, new_id, place, status, wall};
use crate::parcels::actions::notices::{NoticeLook, Search, board, offerable};
use crate::parcels::actions::{swaps, threads};
use crate::parcels::views::{
    FormParts, SwapPage, SwapParts, TypedSwap, give_forms, swap_form, swap_page, swaps_page,
};
use crate::platform::csrf::Form;
use crate::platform::html::{Page, render, render_as, see_other};
use crate::platform::{Ctx, PageSession, Problem, Result};

const HERE: &str = "/swaps";
/// More notices of one author than a form lists.
const MOST_OFFERS: usize = 200;

#[derive(Default, Deserialize)]
#[serde(default)]
struct Which {
    after: Option<String>,
    done: Option<String>,
    thread: String,
    answers: String,
}

#[get("/swaps")]
pub async fn list(
    ctx: web::Data<Ctx>,
    session: PageSession,
    which: web::Query<Which>,
) -> Result<HttpResponse> {
    let after = place(which.after.as_deref())?;
    let found = swaps::swaps(&ctx, AccountId(session.who.account), after, MOST).await?;
    let page = Page::of(&ctx, &session, "Swaps", HERE);
    render(&swaps_page(page, &found, wall(&ctx, &session).await?))
}

#[get("/swaps/new")]
pub async fn begin(
    ctx: web::Data<Ctx>,
    session: PageSession,
    which: web::Query<Which>,
) -> Result<HttpResponse> {
    let Which { thread, answers, .. } = which.into_inner();
    let typed = TypedSwap::begin(new_id(&ctx), thread, answers);
    form(&ctx, &session, &typed, None).await
}

/// Whom a proposal goes to, where a thread or a swap says it: their account and what is read of them.
async fn with(ctx: &Ctx, account: AccountId, typed: &TypedSwap) -> Result<Option<(AccountId, String)>> {
    let thread = match (parse_uuid(&typed.answers), parse_uuid(&typed.thread)) {
        (Some(swap), _) => swaps::read(ctx, account, swap).await?.row.thread,
        (None, Some(thread)) => thread,
        (None, None) => return Ok(None),
    };
    let look = threads::thread(ctx, account, thread, None).await?;
    Ok(threads::other(&look.row, account).map(|other| (other, look.with)))
}

async fn form(
    ctx: &Ctx,
    session: &PageSession,
    typed: &TypedSwap,
    problem: Option<&Problem>,
) -> Result<HttpResponse> {
    let account = AccountId(session.who.account);
    let with = with(ctx, account, typed).await?;
    let mut offers: Vec<NoticeLook> = Vec::new();
    if let Some((other, _)) = &with {
        offers = board(ctx, account, &Search::default(), None, MOST_OFFERS).await?.notices;
        offers.retain(|look| look.row.author == other.0 && look.row.stock.is_some());
    }
    let stocks = offerable(ctx, account).await?;
    let page = Page::of(ctx, session, "Propose a swap", HERE);
    let parts =
        FormParts { typed, with: with.map(|(_, name)| name), stocks: &stocks, offers: &offers, problem };
    let page = swap_form(page, parts);
    match problem {
        Some(problem) => render_as(status(problem), &page),
        None => render(&page),
    }
}

#[post("/swaps")]
pub async fn post(ctx: web::Data<Ctx>, session: PageSession, form: Form<TypedSwap>) -> Result<HttpResponse> {
    let typed = form.fields;
    let proposed = match typed.read() {
        Ok(proposal) => swaps::propose(&ctx, &session.who, proposal).await,
        Err(problem) => Err(problem),
    };
    match proposed {
        Ok(row) => Ok(see_other(&format!("{HERE}/{}?done=proposed", row.id))),
        Err(problem) if is_for_the_form(&problem) => self::form(&ctx, &session, &typed, Some(&problem)).await,
        Err(problem) => Err(problem),
    }
}

#[get("/swaps/{swap}")]
pub async fn show(
    ctx: web::Data<Ctx>,
    session: PageSession,
    id: web::Path<Uuid>,
    which: web::Query<Which>,
) -> Result<HttpResponse> {
    let typed = TypedSwap::default();
    render(&page(&ctx, &session, *id, which.done.as_deref(), (&typed, ""), None).await?)
}

async fn page(
    ctx: &Ctx,
    session: &PageSession,
    id: Uuid,
    done: Option<&str>,
    (typed, text): (&TypedSwap, &str),
    problem: Option<(&'static str, &Problem)>,
) -> Result<SwapPage> {
    let account = session.who.account;
    let look = swaps::read(ctx, AccountId(account), id).await?;
    let thread = threads::thread(ctx, AccountId(account), look.row.thread, None).await?;
    // What is asked for by a notice names the stock already.
    let in_words = look.side == SwapSide::Other
        && look.state == SwapState::Proposed
        && look.row.ask_words.is_some()
        && !look.rows.iter().any(|row| row.asked);
    let give = if in_words {
        give_forms(&offerable(ctx, AccountId(account)).await?, typed, problem.map(|(_, problem)| problem))
    } else {
        Vec::new()
    };
    let page = Page::of(ctx, session, format!("A swap with {}", look.with), HERE);
    let parts = SwapParts {
        look: &look,
        thread: &thread,
        account,
        give,
        done,
        typed: text,
        problem,
        id: new_id(ctx),
        wall: wall(ctx, session).await?,
    };
    Ok(swap_page(page, parts))
}

/// To the swap's page after a deed, or back to it with what was in the way.
async fn after(
    ctx: &Ctx,
    session: &PageSession,
    id: Uuid,
    (done, not): (&str, &'static str),
    typed: (&TypedSwap, &str),
    result: Result<()>,
) -> Result<HttpResponse> {
    match result {
        Ok(()) => Ok(see_other(&format!("{HERE}/{id}?done={done}"))),
        Err(problem) if is_for_the_form(&problem) => {
            let page = page(ctx, session, id, None, typed, Some((not, &problem))).await?;
            render_as(status(&problem), &page)
        }
        Err(problem) => Err(problem),
    }
}

#[post("/swaps/{swap}/agree")]
pub async fn agree(
    ctx: web::Data<Ctx>,
    session: PageSession,
    id: web::Path<Uuid>,
    form: Form<TypedSwap>,
) -> Result<HttpResponse> {
    let agreed = match form.fields.given() {
        Ok(given) => swaps::agree(&ctx, &session.who, *id, Some(given)).await.map(drop),
        Err(problem) => Err(problem),
    };
    after(&ctx, &session, *id, ("agreed", "Not agreed"), (&form.fields, ""), agreed).await
}

#[derive(Deserialize)]
struct Nothing {}

#[post("/swaps/{swap}/decline")]
pub async fn decline(
    ctx: web::Data<Ctx>,
    session: PageSession,
    id: web::Path<Uuid>,
    _form: Form<Nothing>,
) -> Result<HttpResponse> {
    let declined = swaps::decline(&ctx, &session.who, *id).await.map(drop);
    after(&ctx, &session, *id, ("declined", "Not declined"), (&TypedSwap::default(), ""), declined).await
}

#[post("/swaps/{swap}/withdraw")]
pub async fn withdraw(
    ctx: web::Data<Ctx>,
    session: PageSession,
    id: web::Path<Uuid>,
    _form: Form<Nothing>,
) -> Result<HttpResponse> {
    let withdrawn = swaps::withdraw(&ctx, &session.who, *id).await.map(drop);
    after(&ctx, &session, *id, ("withdrawn", "Not withdrawn"), (&TypedSwap::default(), ""), withdrawn).await
}

#[post("/swaps/{swap}/lines")]
pub async fn say(
    ctx: web::Data<Ctx>,
    session: PageSession,
    id: web::Path<Uuid>,
    form: Form<Said>,
) -> Result<HttpResponse> {
    let Said { id: line, text } = form.fields;
    let look = swaps::read(&ctx, AccountId(session.who.account), *id).await?;
    let said = threads::say(&ctx, &session.who, look.row.thread, line, &text).await.map(drop);
    after(&ctx, &session, *id, ("said", "Not sent"), (&TypedSwap::default(), &text), said).await
}
