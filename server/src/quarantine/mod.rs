//! Quarantine: what is held, until when, and the signature that ends it.
//!
//! Rules of the page on quarantine: derived from the room's records, never written; only time and a second person
//! end it; whoever keeps, gave or wrote of the fish does not sign. Owns no table: home clubs and rules reach rooms
//! as decisions in their streams.

pub mod actions;
mod api;
pub mod jobs;
pub mod refusals;
pub mod store;

use utoipa_actix_web::service_config::ServiceConfig;

/// JSON routes.
pub fn routes(cfg: &mut ServiceConfig) {
    cfg.service(api::units).service(api::sign_off).service(api::home_club);
}
