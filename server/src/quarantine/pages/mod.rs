//! Pages of quarantine: a keeper's units, one unit, and a steward's desk.

mod sign_off;

use actix_web::{HttpResponse, get, web};
use tarn_domain::quarantine::UnitState;
use tarn_domain::streams::{AccountId, StreamId, UnitId};
use uuid::Uuid;

use super::actions::{self, UnitLook};
use super::store;
use super::views::{self, Desk, People, UnitGroup, UnitList};
use crate::platform::errors::NOT_FOUND;
use crate::platform::html::{Page, render, see_other};
use crate::platform::{Ctx, PageSession, Result};
use crate::rooms;
use crate::rooms::actions::read::look;
use crate::rooms::views::{Beside, UnitOfRoom};

/// Every page of the area.
pub fn pages(cfg: &mut web::ServiceConfig) {
    cfg.service(show_units).service(show_unit);
    cfg.service(sign_off::desk).service(sign_off::show).service(sign_off::sign).service(sign_off::signed);
}

#[get("/units")]
async fn show_units(ctx: web::Data<Ctx>, session: PageSession) -> Result<HttpResponse> {
    let account = AccountId(session.who.account);
    let rooms = rooms::store::rooms_of(&ctx.db.conn, account).await?;
    let ids: Vec<StreamId> = rooms.iter().map(|room| StreamId(room.stream)).collect();
    let several = ids.len() > 1;
    let all = gather(&ctx, ids, Desk::Keeper, several).await?;
    render(&UnitList {
        page: Page::of(&ctx, &session, "Units", "/units")
            .at(format!("{}\u{2019}s rooms", session.shown_name)),
        lead: lead(&all, "waits for a steward\u{2019}s signature", "wait for a steward\u{2019}s signature"),
        groups: groups(all, Desk::Keeper),
        empty: "Nothing is in quarantine. A unit opens by itself when fish come in.".into(),
    })
}

/// The units of rooms, one room after the other, so that none is held while another is waited for.
async fn gather(
    ctx: &Ctx,
    rooms: impl IntoIterator<Item = StreamId>,
    desk: Desk,
    placed: bool,
) -> Result<Vec<UnitOfRoom>> {
    let mut all = Vec::new();
    for room in rooms {
        let (look, ()) = look(ctx, room, |_| ()).await?;
        let mut units = views::for_desk(&look.states(), &look.quarantine, room, look.wall, desk);
        if placed {
            for unit in &mut units {
                unit.line.place = Some(look.room.name.clone());
            }
        }
        all.extend(units);
    }
    all.sort_by_key(|unit| unit.due);
    Ok(all)
}

fn lead(all: &[UnitOfRoom], one: &str, more: &str) -> String {
    let due = all.iter().filter(|unit| unit.word == UnitState::Due.word()).count();
    let bags = all.iter().filter(|unit| unit.word == UnitState::InTheBag.word()).count();
    let first = match due {
        0 => format!("No unit {one}."),
        1 => format!("One unit {one}."),
        n => format!("{n} units {more}."),
    };
    let rest = match all.iter().filter(|unit| unit.word == UnitState::Running.word()).count() {
        0 => String::new(),
        1 => " The days of one are not done.".into(),
        n => format!(" The days of {n} are not done."),
    };
    let treated = all.iter().filter(|unit| unit.word == UnitState::Treating.word()).count();
    let rest = match treated {
        0 => rest,
        1 => format!("{rest} One is being treated."),
        n => format!("{rest} {n} are being treated."),
    };
    let bags = match bags {
        0 => "",
        1 => " Fish in one bag wait for water.",
        _ => " Fish in several bags wait for water.",
    };
    if all.is_empty() { "Nothing is held.".into() } else { format!("{first}{rest}{bags}") }
}

fn groups(all: Vec<UnitOfRoom>, desk: Desk) -> Vec<UnitGroup> {
    let due = if desk == Desk::Keeper { "Wait for a signature" } else { "Ready to sign" };
    let mut kinds = [
        (UnitState::InTheBag, UnitGroup { id: "bag", title: "In the bag", units: Vec::new() }),
        (UnitState::Due, UnitGroup { id: "due", title: due, units: Vec::new() }),
        (UnitState::Recalled, UnitGroup { id: "recalled", title: "Recalled", units: Vec::new() }),
        (UnitState::Running, UnitGroup { id: "running", title: "Running", units: Vec::new() }),
        (UnitState::Treating, UnitGroup { id: "treating", title: "Treated", units: Vec::new() }),
    ];
    if desk == Desk::Steward {
        // Fish in the bag are the keeper's first, and the steward's last.
        kinds.rotate_left(1);
    }
    for unit in all {
        if let Some((_, group)) = kinds.iter_mut().find(|(state, _)| state.word() == unit.word) {
            group.units.push(unit.line);
        }
    }
    kinds.into_iter().map(|(_, group)| group).filter(|group| !group.units.is_empty()).collect()
}

#[get("/units/{room}/{unit}")]
async fn show_unit(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse> {
    let (account, room, unit) = (AccountId(session.who.account), StreamId(path.0), UnitId(path.1));
    let of = match actions::unit(&ctx, account, room, unit).await {
        Err(problem) if problem.kind() == &NOT_FOUND => {
            // What was signed off is a unit no longer; its signature stands.
            actions::signed(&ctx, account, room, unit).await?;
            return Ok(see_other(&sign_off::signed_at(room, unit)));
        }
        found => found?,
    };
    let people = people(&ctx, &of).await?;
    let writers = of.traces.writers(&ctx, room).await?;
    let here = if of.looked == actions::Looked::Keeper { "/units" } else { "/sign-off" };
    let head = |title| Page::of(&ctx, &session, title, here).at(&of.look.room.name);
    render(&views::unit_page(head, &of, &people, &writers, *ctx.part::<Beside>()))
}

/// The clubs whose rule holds, and who may sign there without being a keeper of the room.
async fn people(ctx: &Ctx, of: &UnitLook) -> Result<People> {
    let conn = &ctx.db.conn;
    let keepers = rooms::store::keepers(conn, of.look.id).await?;
    let (mut clubs, mut stewards) = (Vec::new(), Vec::new());
    for club in &of.clubs {
        clubs.push(store::club_name(conn, *club).await?.unwrap_or_else(|| "a club".into()));
        stewards.extend(store::stewards_in(conn, *club).await?);
    }
    stewards.retain(|id| !keepers.iter().any(|(keeper, until)| keeper == id && until.is_none()));
    let mut stewards: Vec<String> = rooms::store::people(conn, stewards).await?.into_values().collect();
    stewards.sort_unstable();
    Ok(People { clubs, stewards })
}
