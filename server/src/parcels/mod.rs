//! Parcels: fish on their way from one room to another, joined from what both rooms tell.
//!
//! Rules of the page on parcels: packing and handing over are checked against quarantine; when the bag has left,
//! the server's decision takes the fish out of the giver's room. Table owned: `parcels` (one side per room).

pub mod actions;
mod api;
mod decider;
pub mod jobs;
mod projector;
pub mod refusals;
pub mod store;

use futures_util::FutureExt;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::streams::Areas;

/// JSON routes.
pub fn routes(cfg: &mut ServiceConfig) {
    cfg.service(api::list).service(api::show).service(api::overdue).service(api::settle).service(api::agree);
}

/// What parcels register with streams.
pub fn register(areas: &mut Areas) {
    areas.asked.push(("parcel.packed", |tx, judging| decider::packed(tx, judging).boxed_local()));
    areas.asked.push(("parcel.handed", |tx, judging| decider::handed(tx, judging).boxed_local()));
    areas
        .fixed
        .push(|tx, stream, entry, memory| actions::is_matched(tx, stream, entry, memory).boxed_local());
    areas.news.push(|f| async move { Ok(actions::news(f)) }.boxed_local());
    areas.projectors.push(|p| projector::project(p).boxed_local());
    areas.followers.push(|f| actions::sent(f).boxed_local());
    areas.checkers.push(|conn, stream, memory| projector::differences(conn, stream, memory).boxed_local());
}
