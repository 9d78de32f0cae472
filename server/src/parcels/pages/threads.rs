//! Threads.

use actix_web::{HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use super::{MOST, is_for_the_form, new_id, place, status, wall};
use crate::parcels::actions::threads;
use crate::parcels::views::{ThreadPage, ThreadParts, thread_page, threads_page};
use crate::platform::csrf::Form;
use crate::platform::html::{Page, render, render_as, see_other};
use crate::platform::{Ctx, PageSession, Problem, Result};

/// The entry of the menu from which one comes.
const HERE: &str = "/notices";

#[derive(Default, Deserialize)]
#[serde(default)]
struct Which {
    after: Option<String>,
    before: Option<String>,
}

#[get("/threads")]
pub async fn list(
    ctx: web::Data<Ctx>,
    session: PageSession,
    which: web::Query<Which>,
) -> Result<HttpResponse> {
    let after = place(which.after.as_deref())?;
    let found = threads::threads(&ctx, AccountId(session.who.account), after, MOST).await?;
    let page = Page::of(&ctx, &session, "Replies", HERE);
    render(&threads_page(page, &found, wall(&ctx, &session).await?))
}

#[get("/threads/{thread}")]
pub async fn show(
    ctx: web::Data<Ctx>,
    session: PageSession,
    id: web::Path<Uuid>,
    which: web::Query<Which>,
) -> Result<HttpResponse> {
    render(&page(&ctx, &session, *id, which.before.as_deref(), "", None).await?)
}

async fn page(
    ctx: &Ctx,
    session: &PageSession,
    id: Uuid,
    before: Option<&str>,
    typed: &str,
    problem: Option<&Problem>,
) -> Result<ThreadPage> {
    let account = session.who.account;
    let look = threads::thread(ctx, AccountId(account), id, place(before)?).await?;
    let page = Page::of(ctx, session, format!("With {}", look.with), HERE);
    let wall = wall(ctx, session).await?;
    Ok(thread_page(page, ThreadParts { look: &look, account, typed, problem, id: new_id(ctx), wall }))
}

/// What "Send" sends.
#[derive(Deserialize)]
pub struct Said {
    /// The line's id, made with the page.
    pub id: Uuid,
    /// The line.
    #[serde(default)]
    pub text: String,
}

#[post("/threads/{thread}/lines")]
pub async fn say(
    ctx: web::Data<Ctx>,
    session: PageSession,
    id: web::Path<Uuid>,
    form: Form<Said>,
) -> Result<HttpResponse> {
    let Said { id: line, text } = form.fields;
    match threads::say(&ctx, &session.who, *id, line, &text).await {
        Ok(_) => Ok(see_other(&format!("/threads/{id}#l-{line}"))),
        Err(problem) if is_for_the_form(&problem) => {
            render_as(status(&problem), &page(&ctx, &session, *id, None, &text, Some(&problem)).await?)
        }
        Err(problem) => Err(problem),
    }
}
