//! Clubs: who belongs to them, who may do what there, who is let in, and each club's quarantine rule.
//!
//! Rules: the roles are `tarn_domain::clubs`; the last secretary can't lose the role; what a quarantine rule may
//! say is judged by `tarn_domain::quarantine`. Tables owned: `clubs`, `club_members`, `club_people`,
//! `club_roles`, `club_rules`, `invitations`.

use utoipa_actix_web::service_config::ServiceConfig as Routes;

pub mod actions;
pub mod api;
pub mod jobs;
mod mail;
mod pages;
pub mod refusals;
pub mod store;

pub use pages::pages;

/// The JSON routes, under `/api/v1`.
pub fn routes(cfg: &mut Routes) {
    cfg.service(api::invite)
        .service(api::accept)
        .service(api::club)
        .service(api::give_role)
        .service(api::take_role)
        .service(api::adopt_rule)
        .service(api::require_factor)
        .service(api::list_audit)
        .service(api::list_invitations)
        .service(api::take_back)
        .service(api::join)
        .service(api::list_people)
        .service(api::import)
        .service(api::export)
        .service(api::put_person)
        .service(api::strike_person)
        .service(api::leave)
        .service(api::open_young)
        .service(api::no_longer_young);
}
