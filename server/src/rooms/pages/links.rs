//! The page of who helps in a room, for its keepers: links are made and ended, what they wrote is read.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::streams::{AccountId, By, LinkId, OpId, StreamId, TankId};
use uuid::Uuid;

use super::{HERE, new_id};
use crate::platform::csrf::Form;
use crate::platform::errors::{INVALID, Problem};
use crate::platform::html::{Field, FormErrors, Page, render, render_as, see_other};
use crate::platform::{Ctx, PageSession, Result, transport};
use crate::rooms::actions::links::{self, Wanted, is_good};
use crate::rooms::actions::read::{Traces, kept};
use crate::rooms::views::{self, Beside, HelperAdded, HelpersPage};

/// What the form sends.
#[derive(Default, Deserialize)]
pub struct Typed {
    #[serde(default)]
    name: String,
    #[serde(default)]
    days: String,
}

#[get("/rooms/{room}/helpers")]
pub async fn show(ctx: web::Data<Ctx>, session: PageSession, path: web::Path<Uuid>) -> Result<HttpResponse> {
    let typed = Typed { days: "14".into(), ..Typed::default() };
    render(&page(&ctx, &session, *path, (&typed, &[]), None).await?)
}

async fn page(
    ctx: &Ctx,
    session: &PageSession,
    room: Uuid,
    (typed, ticked): (&Typed, &[String]),
    problem: Option<&Problem>,
) -> Result<HelpersPage> {
    let (account, id) = (AccountId(session.who.account), StreamId(room));
    let all = links::list(ctx, account, id).await?;
    let mut traces = Traces::default();
    let (look, wrote) = kept(ctx, account, id, |memory| {
        // all of them: what came back after a restore keeps its first time, and stands between newer ones
        let by_link = memory.latest().filter_map(|e| Some((e.accepted?.by.link()?, e)));
        by_link.map(|(link, e)| (link, traces.take(memory, e))).collect::<Vec<(LinkId, OpId)>>()
    })
    .await?;
    traces.fetch(ctx, id).await?;
    let now = ctx.clock.now_ms();
    let good = all.iter().filter(|link| is_good(link, now)).count();
    let helpers = all.iter().map(|link| {
        let of_it = wrote.iter().filter(|(by, _)| By::Link(*by).id() == link.id).map(|(_, op)| *op);
        views::helper(&look, link, is_good(link, now), of_it, &traces, *ctx.part::<Beside>(), || new_id(ctx))
    });
    Ok(HelpersPage {
        lead: match good {
            0 => "Nobody can write here without an account.".into(),
            1 => "One link is good now.".into(),
            n => format!("{n} links are good now."),
        },
        errors: problem.map(|problem| FormErrors::of("Not made", problem)),
        href: format!("{HERE}/{room}/helpers"),
        room: format!("{HERE}/{room}"),
        helpers: helpers.collect(),
        name: Field::new("name", "Who helps")
            .hint("The name that stands beside what they write.")
            .typed(&typed.name, problem),
        days: Field::new("days", "For how many days").hint("1 to 60.").typed(&typed.days, problem),
        tanks: views::tank_boxes(&look, *ctx.part::<Beside>(), ticked, problem),
        page: Page::of(ctx, session, "Helpers", HERE).at(&look.room.name),
    })
}

/// Not sent on to another page: the address is shown here, once.
#[post("/rooms/{room}/helpers")]
pub async fn add(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<Typed>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(*path));
    let typed = &form.fields;
    let days = typed.days.trim().parse().unwrap_or(0);
    let ticked: Vec<String> =
        form.pairs.iter().filter(|(name, _)| name == "tanks").map(|(_, value)| value.clone()).collect();
    // an id that can't be read is none of the room's
    let tanks = ticked.iter().map(|id| TankId(id.parse().unwrap_or_default())).collect();
    let wanted = Wanted { name: &typed.name, days, tanks: (!ticked.is_empty()).then_some(tanks) };
    match links::add(&ctx, &session.who.actor(), account, room, wanted).await {
        Ok(made) => {
            let (look, ()) = kept(&ctx, account, room, |_| ()).await?;
            render(&HelperAdded {
                page: Page::of(&ctx, &session, "A helper\u{2019}s link", HERE).at(&look.room.name),
                name: made.link.name,
                until: look.wall.moment(made.link.until_ms.div_euclid(1000)),
                address: format!("{}{}", transport::own_origin(&req, &ctx.config), made.path),
                href: format!("{HERE}/{room}/helpers"),
            })
        }
        Err(problem) if problem.kind() == &INVALID => {
            let came_back = page(&ctx, &session, *path, (typed, &ticked), Some(&problem)).await?;
            render_as(StatusCode::UNPROCESSABLE_ENTITY, &came_back)
        }
        Err(problem) => Err(problem),
    }
}

/// What "End it now" sends.
#[derive(Deserialize)]
struct Ended {
    helper: Uuid,
}

#[post("/rooms/{room}/helpers/end")]
pub async fn end(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<Ended>,
) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(*path));
    links::end(&ctx, &session.who.actor(), account, room, LinkId(form.fields.helper)).await?;
    Ok(see_other(&format!("{HERE}/{room}/helpers")))
}
