//! Pages of parcels, notices, threads and swaps. Every form works without a script.

mod boards;
mod notices;
mod parcels;
mod swaps;
mod threads;

use actix_web::http::StatusCode;
use actix_web::{ResponseError, web};

use crate::accounts;
use crate::platform::day::Wall;
use crate::platform::errors::{FAILED, NOT_FOUND, Problem};
use crate::platform::messages::Place;
use crate::platform::{Ctx, PageSession, Result};

/// Every page of the area.
pub fn pages(cfg: &mut web::ServiceConfig) {
    cfg.service(parcels::list).service(parcels::agreement).service(parcels::agree);
    cfg.service(parcels::show).service(parcels::settle);
    // `new` stands before the ids, which would take it for one
    cfg.service(boards::list).service(notices::begin).service(notices::post).service(notices::show);
    cfg.service(notices::edit).service(notices::change).service(notices::end).service(notices::again);
    cfg.service(notices::reply)
        .service(boards::set_days)
        .service(threads::list)
        .service(threads::show)
        .service(threads::say);
    cfg.service(swaps::list).service(swaps::begin).service(swaps::post).service(swaps::show);
    cfg.service(swaps::agree).service(swaps::decline).service(swaps::withdraw).service(swaps::say);
}

/// How many stand on a page.
const MOST: usize = 30;

/// The reader's clock: that of their first room.
async fn wall(ctx: &Ctx, session: &PageSession) -> Result<Wall> {
    let zone = accounts::store::zone_of(&ctx.db.conn, session.who.account).await?;
    Ok(Wall::new(&zone, ctx.clock.now_ms()))
}

fn new_id(ctx: &Ctx) -> String {
    ctx.ids.new_id(ctx.clock.now_ms()).to_string()
}

/// Where a list goes on; an address that nobody made leads nowhere.
fn place(cursor: Option<&str>) -> Result<Option<Place>> {
    let nothing = || Problem::new(&NOT_FOUND);
    cursor.map(|cursor| accounts::actions::place_of(cursor).ok_or_else(nothing)).transpose()
}

/// Whether a refusal is shown on the page it came from; else it has a page of its own.
fn is_for_the_form(problem: &Problem) -> bool {
    let kind = problem.kind();
    kind.status < 500 && kind != &FAILED && (kind != &NOT_FOUND || !problem.faults().is_empty())
}

fn status(problem: &Problem) -> StatusCode {
    problem.status_code()
}
