//! Streams: append-only lists of ops, their history, their devices, and the one `append`.
//!
//! Rules of the page on sync: an op is never changed, but for words that are blanked; `seq` is given under a lock on the stream's own row; the
//! first accepted bytes of an id are the op; decisions come only from the server's own path.
//! Tables owned: `streams stream_lines ops op_counts devices`. Knows no area: what an op means to one comes in through
//! [`Areas`], which `app.rs` fills.

pub mod actions;
mod api;
pub mod refusals;
pub mod store;

pub use actions::areas::{
    AccessFuture, Areas, Changed, Follow, Following, Judging, Projecting, Right, following_id,
};
pub use actions::{
    Accepted, Appended, Incoming, Outcome, Path, append, export, in_write, readings, remove, to_rebuild,
    touch_up,
};
pub use store::cache::{Held, room, since};

use utoipa_actix_web::service_config::ServiceConfig;

/// JSON routes.
pub fn routes(cfg: &mut ServiceConfig) {
    cfg.service(api::list)
        .service(api::register)
        .service(api::push)
        .service(api::pull)
        .service(api::live)
        .service(api::export)
        .service(api::state)
        .service(api::redact::redact)
        .service(api::hand_over::vouch)
        .service(api::hand_over::adopt)
        .service(api::bring::bring)
        .service(api::bring::end)
        .service(api::catalogue);
}
