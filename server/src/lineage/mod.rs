//! Lineage: broods as they can be asked for across rooms.
//!
//! Rules: a brood's facts belong to its home stream; the same id told by another stream is another row, never merged.
//! Parents that would make a circle are refused. What a home changes is told to every room that holds a copy. Tables
//! owned: `broods`, `brood_copies`, `published_rooms`, `line_groups`, `line_group_members`.

pub mod actions;
pub mod api;
mod decider;
pub mod jobs;
mod pages;
mod projector;
pub mod refusals;
pub mod store;
pub mod views;

use futures_util::FutureExt;
use futures_util::future::LocalBoxFuture;
use serde_json::{Value, json};
use tarn_domain::streams::AccountId;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::platform::html::rfc3339;
use crate::platform::menu::MenuEntry;
use crate::platform::{Ctx, Result, Write};
use crate::streams::Areas;

pub use pages::pages;

/// JSON routes.
pub fn routes(cfg: &mut ServiceConfig) {
    cfg.service(api::brood::show).service(api::brood::show_ancestry);
    cfg.service(api::groups::show_all).service(api::groups::start).service(api::groups::show);
    cfg.service(api::groups::invite).service(api::groups::join).service(api::groups::leave);
    cfg.service(api::published::setting).service(api::published::publish);
    cfg.service(api::published::show_all).service(api::published::show);
}

/// What the menu has of this area: line groups, and the stock lists that keepers publish.
pub fn menu() -> MenuEntry {
    MenuEntry::to(pages::HERE, "Lines")
}

/// Who leaves the server is in no line group any more.
pub fn leave(w: &mut Write, account: Uuid) -> LocalBoxFuture<'_, Result<()>> {
    async move { store::groups::forget(w.tx(), AccountId(account)).await }.boxed_local()
}

/// The line groups that somebody is in or was asked into.
pub fn own_data(ctx: &Ctx, account: Uuid) -> LocalBoxFuture<'_, Result<Value>> {
    async move {
        let groups = store::groups::groups_of(&ctx.db.conn, AccountId(account)).await?.into_iter();
        let groups = groups.map(|(group, mine)| {
            json!({"species": group.species, "line": group.line, "asked_at": rfc3339(mine.invited_ms),
                "joined_at": mine.joined_ms.map(rfc3339)})
        });
        Ok(json!({"line_groups": groups.collect::<Vec<_>>()}))
    }
    .boxed_local()
}

/// What lineage registers with streams.
pub fn register(areas: &mut Areas) {
    areas.deciders.extend(decider::TELL_PARENTS.map(|kind| (kind, decider::parents as _)));
    areas.asked.push(("brood.corrected", |tx, judging| actions::may_be_corrected(tx, judging).boxed_local()));
    areas.fixed.push(|tx, stream, entry, memory| {
        async move { Ok(!actions::may_be_taken_back(tx, stream, entry, memory).await?) }.boxed_local()
    });
    areas.projectors.push(|p| projector::project(p).boxed_local());
    areas.removers.push(|tx, room| store::forget_room(tx, room).boxed_local());
    areas.news.push(|f| actions::news(f).boxed_local());
    areas.checkers.push(|conn, stream, memory| projector::differences(conn, stream, memory).boxed_local());
}
