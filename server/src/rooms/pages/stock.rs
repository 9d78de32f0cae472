//! The page of a stock, and the entries that are written there.

use actix_web::{HttpResponse, get, post, web};
use tarn_domain::streams::{AccountId, OpId, StockId, StreamId};
use uuid::Uuid;

use super::{HERE, new_id};
use crate::platform::csrf::Form;
use crate::platform::errors::{INVALID, NOT_FOUND, Problem};
use crate::platform::html::{Page, render, render_refused, see_other};
use crate::platform::{Ctx, PageSession, Result};
use crate::rooms::actions::entry::{self, Typed};
use crate::rooms::actions::{enter as write_entry, read};
use crate::rooms::views::{self, Beside, StockPage, StockParts, TakenBack};
use crate::streams::refusals::ID_TAKEN;

#[get("/rooms/{room}/stocks/{stock}")]
pub async fn show(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    ask: web::Query<TakenBack>,
) -> Result<HttpResponse> {
    render(&page(&ctx, &session, *path, *ask, &Typed::default(), None).await?)
}

async fn page(
    ctx: &Ctx,
    session: &PageSession,
    (room, stock): (Uuid, Uuid),
    ask: TakenBack,
    typed: &Typed,
    problem: Option<&Problem>,
) -> Result<StockPage> {
    let (account, room, stock) = (AccountId(session.who.account), StreamId(room), StockId(stock));
    let now = ctx.clock.now_ms();
    let copy = |memory: &_| views::gather_stock(memory, stock, account, ask, now);
    let (look, gathered) = read::kept(ctx, account, room, copy).await?;
    let mut gathered = gathered.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    gathered.traces.fetch(ctx, room).await?;
    let writers = &gathered.traces.writers(ctx, room).await?;
    let beside = *ctx.part::<Beside>();
    let parts = StockParts { look: &look, gathered: &gathered, writers, beside, ask, typed, problem };
    let head = |title| Page::of(ctx, session, title, HERE).at(&look.room.name);
    views::stock_page(head, stock, &parts, || new_id(ctx)).ok_or_else(|| Problem::new(&NOT_FOUND))
}

#[post("/rooms/{room}/stocks/{stock}/entries")]
pub async fn enter(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    form: Form<Typed>,
) -> Result<HttpResponse> {
    let typed = &form.fields;
    match write(&ctx, &session, *path, typed).await {
        Ok(()) => {
            let (room, stock) = *path;
            Ok(see_other(&format!("{HERE}/{room}/stocks/{stock}?wrote={}", typed.id)))
        }
        Err(problem) if [INVALID.code, ID_TAKEN.code].contains(&problem.kind().code) => {
            let problem = if problem.kind() == &ID_TAKEN {
                Problem::new(&ID_TAKEN).detail(
                    "This form was sent before, with other words. Read the entries, then send it again",
                )
            } else {
                problem
            };
            let came_back = page(&ctx, &session, *path, TakenBack::default(), typed, Some(&problem)).await?;
            render_refused(&problem, &came_back)
        }
        Err(problem) => Err(problem),
    }
}

async fn write(ctx: &Ctx, session: &PageSession, (room, id): (Uuid, Uuid), typed: &Typed) -> Result<()> {
    let (account, room, id) = (AccountId(session.who.account), StreamId(room), StockId(id));
    let (look, ()) = read::kept(ctx, account, room, |_| ()).await?;
    let states = look.states();
    let stock = states.stocks.get(&id).ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let (at, body) = entry::read(typed, id, stock, look.wall)?;
    write_entry(ctx, &session.who.actor(), account, room, OpId(typed.id), at, body).await?;
    Ok(())
}
