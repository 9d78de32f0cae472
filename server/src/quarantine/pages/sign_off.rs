//! A steward's desk, the page on which they sign, and the one that says what stands.

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::quarantine::{Seen, SignOffRefusal};
use tarn_domain::streams::{AccountId, OpId, StreamId, UnitId};
use uuid::Uuid;

use super::{gather, groups, lead, people};
use crate::platform::auth::FreshSession;
use crate::platform::csrf::Form;
use crate::platform::errors::{INVALID, NOT_FOUND, Problem};
use crate::platform::html::{Link, Page, render, render_as, see_other};
use crate::platform::{Ctx, PageSession, Result};
use crate::quarantine::actions::{self, Signature};
use crate::quarantine::views::{self, Asked, Desk, SignOffPage, UnitList};
use crate::quarantine::{refusals, store};
use crate::rooms;

const HERE: &str = "/sign-off";
const PLACE: &str = "Steward\u{2019}s desk";

#[get("/sign-off")]
pub async fn desk(ctx: web::Data<Ctx>, session: PageSession) -> Result<HttpResponse> {
    let account = AccountId(session.who.account);
    if store::steward_of(&ctx.db.conn, account).await?.is_empty() {
        return Err(Problem::new(&NOT_FOUND));
    }
    let rooms = actions::rooms_to_sign(&ctx, account).await?;
    let all = gather(&ctx, rooms, Desk::Steward, true).await?;
    render(&UnitList {
        page: Page::of(&ctx, &session, "To sign off", HERE).at(PLACE),
        lead: lead(&all, "waits for a signature", "wait for a signature"),
        groups: groups(all, Desk::Steward),
        empty: "Nothing is in quarantine in your clubs\u{2019} rooms. Rooms you keep are signed by another steward."
            .into(),
    })
}

/// What a page of a unit is: to be signed, or signed already.
enum Found {
    Page(Box<SignOffPage>),
    Signed(HttpResponse),
}

async fn page(
    ctx: &Ctx,
    session: &PageSession,
    (room, unit): (Uuid, Uuid),
    asked: &Asked,
    problem: Option<&Problem>,
) -> Result<Found> {
    let (account, room, id) = (AccountId(session.who.account), StreamId(room), UnitId(unit));
    let no = match standing(ctx, account, room, id).await {
        Ok(no) => no,
        Err(problem) if problem.kind() == &NOT_FOUND => {
            actions::signed(ctx, account, room, id).await?;
            return Ok(Found::Signed(see_other(&signed_at(room, id))));
        }
        Err(problem) => return Err(problem),
    };
    let of = actions::unit(ctx, account, room, id).await?;
    let people = people(ctx, &of).await?;
    let head = |title| Page::of(ctx, session, title, HERE).at(PLACE);
    let new = OpId(ctx.ids.new_id(ctx.clock.now_ms()));
    Ok(Found::Page(Box::new(views::form_page(head, &of, &people, no.as_ref(), asked, problem, new))))
}

/// What is in the way of this steward's signature now.
async fn standing(
    ctx: &Ctx,
    account: AccountId,
    room: StreamId,
    id: UnitId,
) -> Result<Option<SignOffRefusal>> {
    let (units, at, _) = actions::unit_for(ctx, account, room, id).await?;
    let seat = actions::seat(ctx, account, &units, at).await?;
    Ok(actions::refusal(&units, at, account, &seat, (units.head, 0)))
}

pub fn signed_at(room: StreamId, unit: UnitId) -> String {
    format!("{HERE}/{room}/{unit}/signed")
}

#[get("/sign-off/{room}/{unit}")]
pub async fn show(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse> {
    match page(&ctx, &session, *path, &Asked::default(), None).await? {
        Found::Page(page) => render(&*page),
        Found::Signed(elsewhere) => Ok(elsewhere),
    }
}

/// What the form sends.
#[derive(Deserialize)]
struct Typed {
    id: Uuid,
    head: u64,
    #[serde(default)]
    seen: String,
    #[serde(default)]
    remark: String,
}

#[post("/sign-off/{room}/{unit}")]
pub async fn sign(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    form: Form<Typed>,
) -> Result<HttpResponse> {
    let (room, unit) = (StreamId(path.0), UnitId(path.1));
    let problem = match sign_it(&ctx, &session, room, unit, &form.fields).await {
        Ok(()) => return Ok(see_other(&signed_at(room, unit))),
        Err(problem) => problem,
    };
    let comes_back = [&INVALID, &NOT_FOUND].contains(&problem.kind())
        || refusals::KINDS.iter().any(|kind| *kind == problem.kind());
    if !comes_back {
        return Err(problem);
    }
    let asked = Asked { seen: form.fields.seen.clone(), remark: form.fields.remark.clone() };
    match page(&ctx, &session, *path, &asked, Some(&problem)).await? {
        Found::Page(page) => {
            let status = StatusCode::from_u16(problem.kind().status).unwrap_or(StatusCode::CONFLICT);
            render_as(status, &*page)
        }
        Found::Signed(elsewhere) => Ok(elsewhere),
    }
}

async fn sign_it(
    ctx: &Ctx,
    session: &PageSession,
    room: StreamId,
    unit: UnitId,
    typed: &Typed,
) -> Result<()> {
    let Some((seen, ..)) = Seen::ALL.into_iter().find(|(_, word, _)| *word == typed.seen) else {
        return Err(Problem::new(&INVALID)
            .detail("One answer is missing")
            .at("/seen", "Say how you saw the fish"));
    };
    let remark = Some(typed.remark.trim().to_owned()).filter(|remark| !remark.is_empty());
    let ask =
        Signature { id: OpId(typed.id), room, unit, head: typed.head, seen, remark, passed: Vec::new() };
    // The session of a page was looked up with this very request.
    actions::sign_off(ctx, &FreshSession(session.who), &ask).await?;
    Ok(())
}

#[get("/sign-off/{room}/{unit}/signed")]
pub async fn signed(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse> {
    let (account, room, unit) = (AccountId(session.who.account), StreamId(path.0), UnitId(path.1));
    let of = actions::signed(&ctx, account, room, unit).await?;
    let conn = &ctx.db.conn;
    let steward = of.signed.says.steward;
    let people = rooms::store::people(conn, [steward]).await?;
    let by = people.get(&steward).map_or("a steward", String::as_str);
    let club = store::club_name(conn, of.signed.says.club).await?;
    let keeper = rooms::store::is_keeper(conn, room, account).await?;
    let next = if keeper {
        Link { href: format!("/rooms/{room}"), words: "To the room".into() }
    } else {
        Link { href: HERE.into(), words: "To the next unit".into() }
    };
    let (here, place) = if keeper { ("/units", of.look.room.name.as_str()) } else { (HERE, PLACE) };
    let head = |title| Page::of(&ctx, &session, title, here).at(place);
    render(&views::signed_page(head, &of, by, club.as_deref().unwrap_or("a club"), next))
}
