//! Pages of quarantine: a keeper's units, one unit, and a steward's desk.

mod deeds;
mod leaving;
mod sign_off;
mod signed;
mod unit;
mod who;

use actix_web::{HttpResponse, get, web};
use tarn_domain::quarantine::UnitState;
use tarn_domain::streams::{AccountId, StreamId};

use super::views::{self, Desk, UnitGroup, UnitList};
use crate::platform::html::{Link, Page, render};
use crate::platform::{Ctx, PageSession, Result};
use crate::rooms;
use crate::rooms::actions::read::look;
use crate::rooms::views::UnitOfRoom;

/// Every page of the area.
pub fn pages(cfg: &mut web::ServiceConfig) {
    cfg.service(show_units).service(unit::show).service(leaving::show);
    cfg.service(unit::let_pass).service(unit::judge).service(deeds::begin_again);
    cfg.service(deeds::treatment_ended).service(deeds::out_of_the_bag).service(deeds::home_club);
    cfg.service(sign_off::desk).service(sign_off::show).service(sign_off::sign).service(signed::show);
}

#[get("/units")]
async fn show_units(ctx: web::Data<Ctx>, session: PageSession) -> Result<HttpResponse> {
    let account = AccountId(session.who.account);
    let rooms = rooms::store::rooms_of(&ctx.db.conn, account).await?;
    let ids: Vec<StreamId> = rooms.iter().map(|room| StreamId(room.stream)).collect();
    let several = ids.len() > 1;
    let leaving = rooms.iter().map(|room| Link {
        href: format!("/rooms/{}/leaving", room.stream),
        words: if several { format!("What may leave {}", room.name) } else { "What may leave".into() },
    });
    let leaving = leaving.collect();
    let all = gather(&ctx, ids, Desk::Keeper, several).await?;
    render(&UnitList {
        page: Page::of(&ctx, &session, "Units", "/units")
            .at(format!("{}\u{2019}s rooms", session.shown_name)),
        lead: lead(&all, "waits for a steward\u{2019}s signature", "wait for a steward\u{2019}s signature"),
        notes: Vec::new(),
        leaving,
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
    let is_due = |unit: &&UnitOfRoom| unit.word == UnitState::Due.word();
    let due = all.iter().filter(|unit| is_due(unit) && unit.open == 0).count();
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
    let rest = match all.iter().filter(|unit| is_due(unit) && unit.open > 0).count() {
        0 => rest,
        1 => format!("{rest} Of one the days are done, but something is in the way."),
        n => format!("{rest} Of {n} the days are done, but something is in the way."),
    };
    let rest = match all.iter().filter(|unit| unit.word == UnitState::Recalled.word()).count() {
        0 => rest,
        1 => format!("{rest} One sign-off was recalled."),
        n => format!("{rest} {n} sign-offs were recalled."),
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
    let group = |id, title| UnitGroup { id, title, units: Vec::new() };
    let mut kinds = [
        (UnitState::InTheBag, false, group("bag", "In the bag")),
        (UnitState::Recalled, false, group("recalled", "Recalled")),
        (UnitState::Due, false, group("due", due)),
        (UnitState::Due, true, group("blocked", "Due, something in the way")),
        (UnitState::Running, false, group("running", "Running")),
        (UnitState::Treating, false, group("treating", "Treated")),
    ];
    if desk == Desk::Steward {
        // Fish in the bag are the keeper's first, and the steward's last.
        kinds.rotate_left(1);
    }
    for unit in all {
        let blocked = unit.word == UnitState::Due.word() && unit.open > 0;
        let of = |(state, other, _): &&mut (UnitState, bool, UnitGroup)| {
            state.word() == unit.word && *other == blocked
        };
        if let Some((.., group)) = kinds.iter_mut().find(of) {
            group.units.push(unit.line);
        }
    }
    kinds.into_iter().map(|(.., group)| group).filter(|group| !group.units.is_empty()).collect()
}
