//! The page of whoever has a link to a room, and what is written there. The address is the only key: no session counts.

use actix_web::{HttpRequest, HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::streams::{LinkId, OpId, StreamId};
use uuid::Uuid;

use super::new_id;
use crate::entities::room_links;
use crate::platform::csrf::SecretForm;
use crate::platform::errors::{INVALID, Problem};
use crate::platform::html::{Page, render, render_refused, see_other};
use crate::platform::{Ctx, Result, transport};
use crate::rooms::actions::helping::{self, Helped};
use crate::rooms::actions::{links, read};
use crate::rooms::views::{self, Beside, HelpingPage, HelpingParts};
use crate::streams::refusals::ID_TAKEN;

/// What an address may ask to have said.
#[derive(Deserialize)]
struct Wrote {
    wrote: Option<Uuid>,
}

async fn opened(ctx: &Ctx, req: &HttpRequest, secret: &str) -> Result<room_links::Model> {
    // a secret travels as a cookie would: over https, or not at all
    transport::way(req, &ctx.config)?;
    links::open(ctx, secret, transport::visitor_address(req, &ctx.config)).await
}

#[get("/helping/{secret}")]
pub async fn show(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    path: web::Path<String>,
    ask: web::Query<Wrote>,
) -> Result<HttpResponse> {
    let link = opened(&ctx, &req, &path).await?;
    render(&page(&ctx, &link, &path, ask.wrote.map(OpId), (&Helped::default(), &[]), None).await?)
}

async fn page(
    ctx: &Ctx,
    link: &room_links::Model,
    secret: &str,
    wrote: Option<OpId>,
    (typed, ticked): (&Helped, &[String]),
    problem: Option<&Problem>,
) -> Result<HelpingPage> {
    let (room, now) = (StreamId(link.room), ctx.clock.now_ms());
    let copy = |memory: &_| views::gather_helping(memory, LinkId(link.id), now);
    let (mut look, mut gathered) = read::look(ctx, room, copy).await?;
    if let Some(only) = links::tanks_of(link) {
        look.narrow(&only);
    }
    gathered.traces().fetch(ctx, room).await?;
    let writers = gathered.traces().writers(ctx, room).await?;
    let parts = HelpingParts {
        look: &look,
        gathered: &gathered,
        writers: &writers,
        beside: *ctx.part::<Beside>(),
        name: &link.name,
        until_s: link.until_ms.div_euclid(1000),
        href: format!("/helping/{secret}"),
        wrote,
        typed,
        ticked,
        problem,
    };
    let layout = Page::plain(ctx, &look.room.name).at(format!("{} (helper)", link.name));
    Ok(views::helping_page(layout, &parts, || new_id(ctx)))
}

#[post("/helping/{secret}")]
pub async fn enter(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    path: web::Path<String>,
    form: SecretForm<Helped>,
) -> Result<HttpResponse> {
    let link = opened(&ctx, &req, &path).await?;
    let typed = &form.fields;
    let boxes = format!("{}_tank", typed.what);
    let ticked = form.pairs.iter().filter(|(name, _)| *name == boxes);
    let ticked: Vec<String> = ticked.map(|(_, value)| value.clone()).collect();
    match write(&ctx, &link, typed, &ticked).await {
        Ok(()) => Ok(see_other(&format!("/helping/{}?wrote={}", *path, typed.id))),
        Err(problem) if [INVALID.code, ID_TAKEN.code].contains(&problem.kind().code) => {
            let came_back = page(&ctx, &link, &path, None, (typed, &ticked), Some(&problem)).await?;
            render_refused(&problem, &came_back)
        }
        Err(problem) => Err(problem),
    }
}

async fn write(ctx: &Ctx, link: &room_links::Model, typed: &Helped, ticked: &[String]) -> Result<()> {
    let (mut look, ()) = read::look(ctx, StreamId(link.room), |_| ()).await?;
    if let Some(only) = links::tanks_of(link) {
        look.narrow(&only);
    }
    let body = helping::read(typed, ticked, &look.states())?;
    links::enter(ctx, LinkId(link.id), OpId(typed.id), body).await
}
