//! Quarantine: what is held, until when, and the signature that ends it.
//!
//! Rules of the page on quarantine: derived from the room's records, never written; only time and a second person
//! end it; whoever keeps, gave or wrote of the fish does not sign. Home clubs and rules reach rooms as decisions in
//! their streams. Table owned: `quarantine_watch`, up to where a room was looked at for what must be told.

pub mod actions;
mod api;
pub mod jobs;
mod pages;
pub mod refusals;
pub mod store;
pub mod views;

use futures_util::FutureExt;
use tarn_domain::state::EntityState;
use tarn_domain::streams::AccountId;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::platform::menu::MenuEntry;
use crate::platform::{Ctx, Result};
use crate::rooms;
use crate::streams::Areas;

pub use pages::pages;

/// What quarantine registers with streams: the home club that a room's decisions name is kept with the room.
pub fn register(areas: &mut Areas) {
    areas.followers.push(|f| actions::recalled(f).boxed_local());
    areas.removers.push(|tx, room| store::forget(tx, room).boxed_local());
    areas.projectors.push(|p| {
        async move {
            for change in p.changed {
                if let EntityState::Room(facts) = change.after.as_ref()
                    && let Some((_, club)) = facts.home.last()
                {
                    rooms::store::set_home_club(p.tx, p.stream, *club).await?;
                }
            }
            Ok(())
        }
        .boxed_local()
    });
}

/// JSON routes.
pub fn routes(cfg: &mut ServiceConfig) {
    cfg.service(api::units).service(api::sign_off).service(api::home_club);
    cfg.service(api::let_pass).service(api::judge_loss);
}

/// What the menu has of this area: units for keepers, the desk for health stewards.
pub async fn menu(ctx: &Ctx, account: AccountId) -> Result<Vec<MenuEntry>> {
    let mut entries = Vec::new();
    if !rooms::store::rooms_of(&ctx.db.conn, account).await?.is_empty() {
        entries.push(MenuEntry::to("/units", "Units"));
    }
    if !store::steward_of(&ctx.db.conn, account).await?.is_empty() {
        entries.push(MenuEntry::to("/sign-off", "To sign off"));
    }
    Ok(entries)
}
