//! Lineage: broods as they can be asked for across rooms.
//!
//! Rule: a brood's facts belong to its home stream; the same id told by another stream is another row, never
//! merged. Table owned: `broods`.

pub mod actions;
mod api;
mod pages;
mod projector;
pub mod views;

use futures_util::FutureExt;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::streams::Areas;

pub use pages::pages;

/// JSON routes.
pub fn routes(cfg: &mut ServiceConfig) {
    cfg.service(api::brood::show).service(api::brood::ancestry);
}

/// What lineage registers with streams.
pub fn register(areas: &mut Areas) {
    areas.projectors.push(|p| projector::project(p).boxed_local());
    areas.checkers.push(|conn, stream, memory| projector::differences(conn, stream, memory).boxed_local());
}
