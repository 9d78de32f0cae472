//! Parcels: fish on their way from one room to another, joined from what both rooms tell; and what leads to one: the
//! clubs' notice boards, what two members write to each other, and swaps.
//!
//! Rules of the page on parcels: packing and handing over are checked against quarantine; when the bag has left,
//! the server's decision takes the fish out of the giver's room. Nothing that may not leave is offered. Tables owned:
//! `parcels` (one side per room) `club_boards notices threads thread_lines swaps swap_rows`.

pub mod actions;
mod api;
mod decider;
pub mod jobs;
mod pages;
mod projector;
pub mod refusals;
pub mod store;
mod views;

use futures_util::FutureExt;
use tarn_domain::streams::AccountId;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::platform::menu::MenuEntry;
use crate::platform::{Ctx, Result};
use crate::streams::Areas;

pub use pages::pages;

/// JSON routes.
pub fn routes(cfg: &mut ServiceConfig) {
    cfg.service(api::parcels::list).service(api::parcels::overdue).service(api::parcels::show);
    cfg.service(api::parcels::settle).service(api::parcels::agree);
    cfg.service(api::notices::list).service(api::notices::post).service(api::notices::show);
    cfg.service(api::notices::change).service(api::notices::end).service(api::notices::again);
    cfg.service(api::notices::reply).service(api::boards::show).service(api::boards::set);
    cfg.service(api::threads::list).service(api::threads::show).service(api::threads::say);
    cfg.service(api::swaps::list).service(api::swaps::post).service(api::swaps::show);
    cfg.service(api::swaps::agreed).service(api::swaps::decline).service(api::swaps::withdraw);
}

/// What a menu has of this area; the board is for who is in a club.
pub async fn menu(ctx: &Ctx, account: AccountId) -> Result<Vec<MenuEntry>> {
    let parcels = MenuEntry::to("/parcels", "Parcels");
    if store::notices::clubs_of(&ctx.db.conn, account).await?.is_empty() {
        return Ok(vec![parcels]);
    }
    Ok(vec![parcels, MenuEntry::to("/notices", "Notices"), MenuEntry::to("/swaps", "Swaps")])
}

/// What parcels register with streams.
pub fn register(areas: &mut Areas) {
    areas.asked.push(("parcel.packed", |tx, judging| decider::packed(tx, judging).boxed_local()));
    areas.asked.push(("parcel.handed", |tx, judging| decider::handed(tx, judging).boxed_local()));
    areas
        .fixed
        .push(|tx, stream, entry, memory| actions::is_matched(tx, stream, entry, memory).boxed_local());
    areas.removers.push(|tx, room| actions::room_goes(tx, room).boxed_local());
    areas.news.push(|f| async move { Ok(actions::news(f)) }.boxed_local());
    areas.projectors.push(|p| projector::project(p).boxed_local());
    areas.followers.push(|f| actions::sent(f).boxed_local());
    areas.checkers.push(|conn, stream, memory| projector::differences(conn, stream, memory).boxed_local());
}
