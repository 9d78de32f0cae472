//! Rooms: who keeps them, what stands and swims in them, what was done there.
//!
//! Rules of the page on sync: what people do on pages and by other API calls is an op too, under the account's own
//! device of pages. Whoever has a link to a room writes there without an account, little and for a while; a probe has a
//! token that writes the readings of one water.
//! Tables owned: `rooms room_keepers room_caretakers room_links room_probes probe_hours room_tanks room_stocks
//! room_stays room_plumbing`.

pub mod actions;
pub mod api;
pub mod jobs;
mod pages;
pub mod projector;
pub mod refusals;
pub mod store;
pub mod views;

use futures_util::FutureExt;
use sea_orm::DatabaseConnection;
use tarn_domain::streams::{AccountId, StreamId};
use utoipa_actix_web::service_config::ServiceConfig;

use crate::platform::menu::MenuEntry;
use crate::platform::{Ctx, Result};
use crate::streams::{AccessFuture, Areas, Right};

pub use pages::pages;

/// The kind of stream a room is.
pub const KIND: &str = "room";

/// JSON routes.
pub fn routes(cfg: &mut ServiceConfig) {
    cfg.service(api::create)
        .service(api::list)
        .service(api::show)
        .service(api::water::waters)
        .service(api::add_keeper)
        .service(api::remove_keeper)
        .service(api::give_up)
        .service(api::people::name_caretaker)
        .service(api::people::end_caretaker)
        .service(api::people::caretaking)
        .service(api::people::take_over)
        .service(api::links::list_helpers)
        .service(api::links::add_helper)
        .service(api::links::end_helper)
        .service(api::probes::list_probes)
        .service(api::probes::add_probe)
        .service(api::probes::end_probe)
        .service(api::probes::send_readings);
}

/// What rooms register with streams.
pub fn register(areas: &mut Areas) {
    areas.access.push((KIND, access));
    areas
        .adopters
        .push((KIND, |conn, account, room| actions::is_officer_of(conn, account, room).boxed_local()));
    areas.listers.push(|conn, account| {
        async move {
            let rooms = store::rooms_of(conn, account).await?;
            Ok(rooms.into_iter().map(|room| (StreamId(room.stream), room.name, Right::Write)).collect())
        }
        .boxed_local()
    });
    areas.removers.push(|tx, stream| {
        async move {
            projector::clear(tx, stream).await?;
            store::remove(tx, stream).await
        }
        .boxed_local()
    });
    areas.projectors.push(|p| projector::project(p).boxed_local());
    areas.checkers.push(|conn, stream, memory| projector::differences(conn, stream, memory).boxed_local());
}

/// Keepers write; nobody else sees a room's stream.
fn access<'a>(conn: &'a DatabaseConnection, account: AccountId, room: StreamId) -> AccessFuture<'a> {
    async move { Ok(store::is_keeper(conn, room, account).await?.then_some(Right::Write)) }.boxed_local()
}

/// What the menu of a keeper begins with: their room, or the list of them.
pub async fn menu(ctx: &Ctx, account: AccountId) -> Result<Vec<MenuEntry>> {
    let rooms = store::rooms_of(&ctx.db.conn, account).await?;
    Ok(match &rooms[..] {
        [] => Vec::new(),
        [one] => vec![MenuEntry::to(format!("/rooms/{}", one.stream), "Room")],
        _ => vec![MenuEntry::to("/rooms", "Rooms")],
    })
}
