//! The page of a unit, and what a steward does on it: lets things pass, holds a loss for unexplained.

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::streams::{AccountId, OpId, StreamId, UnitId};
use uuid::Uuid;

use super::{signed, who};
use crate::platform::auth::FreshSession;
use crate::platform::csrf::Form;
use crate::platform::errors::{INVALID, NOT_FOUND, Problem};
use crate::platform::html::{Page, render, render_as, see_other};
use crate::platform::{Ctx, PageSession, Result};
use crate::quarantine::actions::{self, Judgement, Letting, Passed};
use crate::quarantine::views::{self, CameBack, UnitPage, UnitParts};
use crate::rooms::views::Beside;

/// The most letters of a reason.
const MOST_LETTERS: usize = 2_000;

/// What an address may ask to have said.
#[derive(Debug, Default, Deserialize)]
pub struct Ask {
    said: Option<String>,
}

impl Ask {
    fn words(&self) -> Option<&'static str> {
        Some(match self.said.as_deref()? {
            "begun" => "Written. The days begin again from there.",
            "passed" => "Let pass. It is written in the room\u{2019}s records, with your reason.",
            "judged" => "Written. The loss is held for unexplained, and the days begin again from it.",
            "ended" => "Written. The treatment is over, and the days begin again.",
            "swim" => "Written. They swim, and the days begin.",
            "which" => "Nothing was written: no tank was chosen.",
            "named" => "Named. Its rule holds here from now on, and its stewards see the unit.",
            "nothing" => "Nothing was changed: it is no longer in the way.",
            _ => return None,
        })
    }
}

/// To the page of a unit, which says what was done.
pub fn back_to((room, unit): (Uuid, Uuid), said: &str) -> HttpResponse {
    see_other(&format!("/units/{room}/{unit}?said={said}"))
}

#[get("/units/{room}/{unit}")]
pub async fn show(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    ask: web::Query<Ask>,
) -> Result<HttpResponse> {
    let (account, room, unit) = (AccountId(session.who.account), StreamId(path.0), UnitId(path.1));
    match page(&ctx, &session, *path, ask.words(), &CameBack::default(), None).await {
        Err(problem) if problem.kind() == &NOT_FOUND => {
            // What was signed off is a unit no longer; its signature stands.
            actions::signed(&ctx, account, room, unit).await?;
            Ok(see_other(&signed::at(room, unit)))
        }
        page => render(&page?),
    }
}

async fn page(
    ctx: &Ctx,
    session: &PageSession,
    (room, unit): (Uuid, Uuid),
    said: Option<&'static str>,
    came_back: &CameBack,
    problem: Option<&Problem>,
) -> Result<UnitPage> {
    let (account, room) = (AccountId(session.who.account), StreamId(room));
    let of = actions::unit(ctx, account, room, UnitId(unit)).await?;
    let people = who::people(ctx, account, &of).await?;
    let writers = of.traces.writers(ctx, room).await?;
    let here = if of.looked == actions::Looked::Keeper { "/units" } else { "/sign-off" };
    let head = |title| Page::of(ctx, session, title, here).at(&of.look.room.name);
    let beside = *ctx.part::<Beside>();
    let parts = UnitParts { of: &of, people: &people, writers: &writers, beside, said, came_back, problem };
    Ok(views::unit_page(head, &parts, || OpId(ctx.ids.new_id(ctx.clock.now_ms()))))
}

/// What a form with a reason sends; the reason's field has a name of its own.
#[derive(Deserialize)]
struct WithReason {
    /// The decision's id, made with the page.
    id: Uuid,
    /// The entry of a loss.
    entry: Option<Uuid>,
}

/// The reason: the field whose name begins so, and what is wrong with it.
fn reason(pairs: &[(String, String)], begins: &str) -> std::result::Result<String, CameBack> {
    let (field, typed) = pairs
        .iter()
        .find(|(name, _)| name.starts_with(begins))
        .map_or((begins, ""), |(name, typed)| (name, typed.trim()));
    let no = |error: &str| {
        Err(CameBack { field: field.to_owned(), typed: typed.to_owned(), error: error.to_owned() })
    };
    match typed.chars().count() {
        0 => no("Write at least one sentence. It is kept and shown with the sign-off."),
        n if n > MOST_LETTERS => no("At most 2,000 letters."),
        _ => Ok(typed.to_owned()),
    }
}

/// The page with the form as it was sent, and what is wrong.
async fn came_back(
    ctx: &Ctx,
    session: &PageSession,
    path: (Uuid, Uuid),
    back: CameBack,
) -> Result<HttpResponse> {
    let problem = Problem::new(&INVALID)
        .detail("A reason is missing, or too long")
        .at(&format!("/{}", back.field), "Write why, in a sentence or two");
    let page = page(ctx, session, path, None, &back, Some(&problem)).await?;
    render_as(StatusCode::UNPROCESSABLE_ENTITY, &page)
}

#[post("/units/{room}/{unit}/waivers")]
pub async fn let_pass(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    form: Form<WithReason>,
) -> Result<HttpResponse> {
    let why = match reason(&form.pairs, "waiver-") {
        Ok(why) => why,
        Err(back) => return came_back(&ctx, &session, *path, back).await,
    };
    let keys = form.pairs.iter().filter(|(name, _)| name == "key").map(|(_, key)| key.clone());
    let passed = keys.map(|key| Passed { key, why: why.clone() }).collect();
    let (room, unit) = (StreamId(path.0), UnitId(path.1));
    let ask = Letting { id: OpId(form.fields.id), room, unit, passed };
    // The session of a page was looked up with this very request.
    match actions::waive(&ctx, &FreshSession(session.who), &ask).await {
        Ok(_) => Ok(back_to(*path, "passed")),
        Err(problem) if problem.kind() == &INVALID => Ok(back_to(*path, "nothing")),
        Err(problem) => Err(problem),
    }
}

#[post("/units/{room}/{unit}/losses")]
pub async fn judge(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    form: Form<WithReason>,
) -> Result<HttpResponse> {
    let why = match reason(&form.pairs, "judged-") {
        Ok(why) => why,
        Err(back) => return came_back(&ctx, &session, *path, back).await,
    };
    let entry = form.fields.entry.map(OpId).ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let (id, room, unit) = (OpId(form.fields.id), StreamId(path.0), UnitId(path.1));
    let ask = Judgement { id, room, unit, entry, why };
    actions::judge(&ctx, &FreshSession(session.who), &ask).await?;
    Ok(back_to(*path, "judged"))
}
