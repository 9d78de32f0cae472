//! The pages of a room's waters: all of them, and one. Read only; a label's rate is multiplied in the answer and kept
//! nowhere.

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, get, web};
use tarn_domain::streams::{AccountId, StreamId};
use uuid::Uuid;

use super::HERE;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::html::{Page, render, render_as, see_other};
use crate::platform::{Ctx, PageSession, Result};
use crate::rooms::actions::read::{Traces, kept};
use crate::rooms::actions::water::{OF_ONE, Which, logs, readings};
use crate::rooms::views::{self, Beside, WaterAsked};

#[get("/rooms/{room}/water")]
pub async fn show_all(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(*path));
    let mut traces = Traces::default();
    let (look, gathered) =
        kept(&ctx, account, room, |memory| views::gather_waters(memory, &mut traces)).await?;
    traces.fetch(&ctx, room).await?;
    let page = Page::of(&ctx, &session, "Water", HERE).at(&look.room.name);
    render(&views::waters_page(page, &look, &gathered, &traces, *ctx.part::<Beside>()))
}

#[get("/rooms/{room}/water/{water}")]
pub async fn show(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    asked: web::Query<WaterAsked>,
) -> Result<HttpResponse> {
    let (account, room, id) = (AccountId(session.who.account), StreamId(path.0), path.1);
    let nothing = || Problem::new(&NOT_FOUND);
    let mut traces = Traces::default();
    let (look, found) = kept(&ctx, account, room, |memory| {
        let states = tarn_domain::state::view(memory.states());
        let which = Which::find(&states, id)?;
        Some((which, logs(memory, &states, which, OF_ONE, &mut traces)))
    })
    .await?;
    let (which, logs) = found.ok_or_else(nothing)?;
    if which.id() != id {
        // a tank on a system has that system's water
        return Ok(see_other(&format!("{HERE}/{room}/water/{}", which.id())));
    }
    traces.fetch(&ctx, room).await?;
    let readings = readings(&look.states(), which, &traces, &logs);
    let head = |title| Page::of(&ctx, &session, title, HERE).at(&look.room.name);
    let made = views::water_page(head, &look, which, readings, *ctx.part::<Beside>(), &asked);
    let (page, problem) = made.ok_or_else(nothing)?;
    match problem {
        None => render(&page),
        Some(_) => render_as(StatusCode::UNPROCESSABLE_ENTITY, &page),
    }
}
