//! The page of one entry: what it says, who wrote it, and the words of it that can be blanked for good.

use actix_web::{HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::state::Memory;
use tarn_domain::streams::{AccountId, OpId, StreamId};
use uuid::Uuid;

use super::HERE;
use crate::platform::csrf::Form;
use crate::platform::errors::NOT_FOUND;
use crate::platform::html::{Page, render, render_refused, see_other};
use crate::platform::{Ctx, PageSession, Problem, Result};
use crate::rooms::actions::read::{self, Traces};
use crate::rooms::views::{self, Beside, EntryPage};
use crate::streams::actions::redact;

async fn page(
    ctx: &Ctx,
    session: &PageSession,
    (room, entry): (Uuid, Uuid),
    problem: Option<&Problem>,
) -> Result<EntryPage> {
    let (account, room, entry) = (AccountId(session.who.account), StreamId(room), OpId(entry));
    let copy = |memory: &Memory| {
        let mut traces = Traces::default();
        memory.entry(entry).map(|found| traces.take(memory, found));
        traces
    };
    let (look, mut traces) = read::kept(ctx, account, room, copy).await?;
    traces.fetch(ctx, room).await?;
    let writers = traces.writers(ctx, room).await?;
    let trace = traces.get(entry).ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let head = Page::of(ctx, session, "An entry", HERE).at(&look.room.name);
    Ok(views::entry_page(head, &look, trace, &writers, *ctx.part::<Beside>(), problem))
}

#[get("/rooms/{room}/entries/{entry}")]
pub async fn show(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse> {
    render(&page(&ctx, &session, *path, None).await?)
}

#[derive(Deserialize)]
struct Blank {}

#[post("/rooms/{room}/entries/{entry}/blanked")]
pub async fn blank(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    form: Form<Blank>,
) -> Result<HttpResponse> {
    let Blank {} = form.fields;
    let (room, entry) = *path;
    let (account, stream) = (AccountId(session.who.account), StreamId(room));
    match redact(&ctx, &session.who.actor(), account, stream, OpId(entry), &[]).await {
        Ok(_) => Ok(see_other(&format!("{HERE}/{room}/entries/{entry}"))),
        Err(problem) if problem.kind().status < 500 && problem.kind() != &NOT_FOUND => {
            render_refused(&problem, &page(&ctx, &session, (room, entry), Some(&problem)).await?)
        }
        Err(problem) => Err(problem),
    }
}
