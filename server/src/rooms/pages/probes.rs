//! The page of a room's probes, for its keepers: made, shown, ended.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::streams::{AccountId, LinkId, StreamId, SystemId, TankId};
use uuid::Uuid;

use super::HERE;
use crate::platform::csrf::Form;
use crate::platform::errors::{INVALID, Problem};
use crate::platform::html::{Field, FormErrors, Page, render, render_as, see_other};
use crate::platform::{Ctx, PageSession, Result, transport};
use crate::rooms::actions::probes::{self, MOST_DAYS, Wanted, is_good};
use crate::rooms::actions::read::kept;
use crate::rooms::actions::water::Which;
use crate::rooms::views::{self, Beside, ProbeAdded, ProbesPage};

/// What the form sends.
#[derive(Default, Deserialize)]
pub struct Typed {
    #[serde(default)]
    name: String,
    #[serde(default)]
    water: String,
    #[serde(default)]
    days: String,
}

#[get("/rooms/{room}/probes")]
pub async fn show(ctx: web::Data<Ctx>, session: PageSession, path: web::Path<Uuid>) -> Result<HttpResponse> {
    let typed = Typed { days: "365".into(), ..Typed::default() };
    render(&page(&ctx, &session, *path, &typed, None).await?)
}

async fn page(
    ctx: &Ctx,
    session: &PageSession,
    room: Uuid,
    typed: &Typed,
    problem: Option<&Problem>,
) -> Result<ProbesPage> {
    let (account, id) = (AccountId(session.who.account), StreamId(room));
    let all = probes::list(ctx, account, id).await?;
    let (look, ()) = kept(ctx, account, id, |_| ()).await?;
    let beside = *ctx.part::<Beside>();
    let now = ctx.clock.now_ms();
    Ok(ProbesPage {
        lead: match all.iter().filter(|row| is_good(row, now)).count() {
            0 => "No probe writes into this room.".into(),
            1 => "One probe writes into this room.".into(),
            n => format!("{n} probes write into this room."),
        },
        errors: problem.map(|problem| FormErrors::of("Not made", problem)),
        href: format!("{HERE}/{room}/probes"),
        room: format!("{HERE}/{room}"),
        water: format!("{HERE}/{room}/water"),
        probes: all.iter().map(|row| views::probe(&look, row, is_good(row, now), beside)).collect(),
        name: Field::new("name", "What it is called")
            .hint("The name that stands beside what it measures.")
            .typed(&typed.name, problem),
        waters: views::water_choice(&look, beside, &typed.water, problem),
        days: Field::new("days", "For how many days its token is good")
            .hint(format!("1 to {MOST_DAYS}."))
            .typed(&typed.days, problem),
        page: Page::of(ctx, session, "Probes", HERE).at(&look.room.name),
    })
}

/// Not sent on to another page: the token is shown here, once.
#[post("/rooms/{room}/probes")]
pub async fn add(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<Typed>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(*path));
    let typed = &form.fields;
    let (look, ()) = kept(&ctx, account, room, |_| ()).await?;
    let id: Option<Uuid> = typed.water.parse().ok();
    let water = id.map(|id| match look.states().systems.contains_key(&SystemId(id)) {
        true => Which::System(SystemId(id)),
        false => Which::Tank(TankId(id)),
    });
    let wanted = Wanted { name: &typed.name, water, days: typed.days.trim().parse().unwrap_or(0) };
    match probes::add(&ctx, &session.who.actor(), account, room, wanted).await {
        Ok(made) => render(&ProbeAdded {
            page: Page::of(&ctx, &session, "A probe\u{2019}s token", HERE).at(&look.room.name),
            name: made.probe.name,
            until: look.wall.moment(made.probe.until_ms.div_euclid(1000)),
            token: made.token,
            address: format!("{}/api/v1/probe/readings", transport::own_origin(&req, &ctx.config)),
            href: format!("{HERE}/{room}/probes"),
        }),
        Err(problem) if problem.kind() == &INVALID => {
            let came_back = page(&ctx, &session, *path, typed, Some(&problem)).await?;
            render_as(StatusCode::UNPROCESSABLE_ENTITY, &came_back)
        }
        Err(problem) => Err(problem),
    }
}

/// What "End it now" sends.
#[derive(Deserialize)]
struct Ended {
    probe: Uuid,
}

#[post("/rooms/{room}/probes/end")]
pub async fn end(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<Ended>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(*path));
    probes::end(&ctx, &session.who.actor(), account, room, LinkId(form.fields.probe)).await?;
    Ok(see_other(&format!("{HERE}/{}/probes", *path)))
}
