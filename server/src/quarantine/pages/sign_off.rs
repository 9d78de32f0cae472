//! A steward's desk, and the page on which they sign.

use actix_web::{HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::clubs::Role;
use tarn_domain::quarantine::{Seen, SignOffRefusal};
use tarn_domain::state::Blocker;
use tarn_domain::streams::{AccountId, OpId, StreamId, UnitId};
use uuid::Uuid;

use super::{gather, groups, lead, signed, who};
use crate::clubs;
use crate::platform::auth::FreshSession;
use crate::platform::csrf::Form;
use crate::platform::errors::{INVALID, NOT_FOUND, Problem};
use crate::platform::html::{Page, render, render_refused, see_other};
use crate::platform::{Ctx, PageSession, Result};
use crate::quarantine::actions::{self, Passed, Signature};
use crate::quarantine::views::{self, Asked, Desk, Group, SignOffPage, UnitList};
use crate::quarantine::{refusals, store};

/// The most letters of a reason.
const MOST_LETTERS: usize = 2_000;
pub(super) const HERE: &str = "/sign-off";
pub(super) const PLACE: &str = "Steward\u{2019}s desk";

#[get("/sign-off")]
pub async fn desk(ctx: web::Data<Ctx>, session: PageSession) -> Result<HttpResponse> {
    let account = AccountId(session.who.account);
    if store::steward_of(&ctx.db.conn, account).await?.is_empty() {
        return Err(clubs::actions::waits_for_a_factor(&ctx, session.who.account, Role::HealthSteward)
            .await?
            .unwrap_or_else(|| Problem::new(&NOT_FOUND)));
    }
    let mut notes = Vec::new();
    for club in store::steward_of(&ctx.db.conn, account).await? {
        let count = store::stewards_in(&ctx.db.conn, club).await?.len();
        if count < 2 {
            notes.push(views::too_few(&who::name(&ctx, club).await?, count));
        }
    }
    let rooms = actions::rooms_to_sign(&ctx, account).await?;
    let all = gather(&ctx, rooms, Desk::Steward, true).await?;
    render(&UnitList {
        page: Page::of(&ctx, &session, "To sign off", HERE).at(PLACE),
        lead: lead(&all, "waits for a signature", "wait for a signature"),
        notes,
        leaving: Vec::new(),
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
            return Ok(Found::Signed(see_other(&signed::at(room, id))));
        }
        Err(problem) => return Err(problem),
    };
    let of = actions::unit(ctx, account, room, id).await?;
    let people = who::people(ctx, account, &of).await?;
    let writers = of.traces.writers(ctx, room).await?;
    let who = (&people, &writers);
    let head = |title| Page::of(ctx, session, title, HERE).at(PLACE);
    let new = OpId(ctx.ids.new_id(ctx.clock.now_ms()));
    Ok(Found::Page(Box::new(views::form_page(head, &of, who, no.as_ref(), asked, problem, new))))
}

/// What is in the way of this steward's signature now, even if all that can be let pass is.
async fn standing(
    ctx: &Ctx,
    account: AccountId,
    room: StreamId,
    id: UnitId,
) -> Result<Option<SignOffRefusal>> {
    let (units, at, _) = actions::unit_for(ctx, account, room, id).await?;
    let seat = actions::seat(ctx, account, &units, at).await?;
    let passed = units.quarantine.blockers[at].len();
    Ok(actions::refusal(&units, at, account, &seat, (units.head, passed)))
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
    let typed = &form.fields;
    let reasons: Vec<(String, String)> =
        form.pairs.iter().filter(|(name, _)| name.starts_with("waiver-")).cloned().collect();
    let problem = match sign_it(&ctx, &session, room, unit, typed, &reasons).await {
        Ok(()) => return Ok(see_other(&signed::at(room, unit))),
        Err(problem) => problem,
    };
    let comes_back = [&INVALID, &NOT_FOUND].contains(&problem.kind())
        || refusals::KINDS.iter().any(|kind| *kind == problem.kind());
    if !comes_back {
        return Err(problem);
    }
    let asked = Asked { seen: typed.seen.clone(), remark: typed.remark.clone(), reasons };
    match page(&ctx, &session, *path, &asked, Some(&problem)).await? {
        Found::Page(page) => render_refused(&problem, &*page),
        Found::Signed(elsewhere) => Ok(elsewhere),
    }
}

async fn sign_it(
    ctx: &Ctx,
    session: &PageSession,
    room: StreamId,
    unit: UnitId,
    typed: &Typed,
    reasons: &[(String, String)],
) -> Result<()> {
    let seen = Seen::ALL.into_iter().find(|(_, word, _)| *word == typed.seen).map(|(seen, ..)| seen);
    let (units, at, _) = actions::unit_for(ctx, AccountId(session.who.account), room, unit).await?;
    let groups = views::groups(&units.quarantine.blockers[at]);
    // The room is let go before the write takes it.
    drop(units);
    let reason = |group: &Group| {
        let field = group.field();
        let typed = reasons.iter().find(|(name, _)| *name == field).map_or("", |(_, typed)| typed.trim());
        (field, typed.to_owned())
    };
    let mut faults = Vec::new();
    if seen.is_none() {
        faults.push(("/seen".to_owned(), "Say how you saw the fish"));
    }
    let mut passed = Vec::new();
    for group in &groups {
        let (field, why) = reason(group);
        if why.is_empty() || why.chars().count() > MOST_LETTERS {
            faults.push((format!("/{field}"), missing(&group.first)));
        }
        passed.extend(group.keys().map(|key| Passed { key, why: why.clone() }));
    }
    let (Some(seen), true) = (seen, faults.is_empty()) else {
        let detail = match faults.len() {
            1 => "One answer is missing".to_owned(),
            2 => "Two answers are missing".to_owned(),
            n => format!("{n} answers are missing"),
        };
        let problem = Problem::new(&INVALID).detail(detail);
        return Err(faults.iter().fold(problem, |problem, (at, why)| problem.at(at, *why)));
    };
    let remark = Some(typed.remark.trim().to_owned()).filter(|remark| !remark.is_empty());
    let ask = Signature { id: OpId(typed.id), room, unit, head: typed.head, seen, remark, passed };
    // The session of a page was looked up with this very request.
    actions::sign_off(ctx, &FreshSession(session.who), &ask).await?;
    Ok(())
}

/// What the list atop the form says of a reason that is missing.
fn missing(blocker: &Blocker) -> &'static str {
    match blocker {
        Blocker::Gap(_) => "Write why the time without a look does not matter, or don\u{2019}t sign",
        Blocker::Late { .. } => "Write why the late entry does not matter, or don\u{2019}t sign",
        Blocker::Withdrawn { .. } => {
            "Write why the entry that was taken back does not matter, or don\u{2019}t sign"
        }
        Blocker::FoundMore(_) => {
            "Write why the fish that were found don\u{2019}t matter, or don\u{2019}t sign"
        }
        Blocker::ManyNamed(_) => "Write why so many losses don\u{2019}t matter, or don\u{2019}t sign",
    }
}
