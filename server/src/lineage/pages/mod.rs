//! Pages of lineage: a brood with its ancestry, stock lists, line groups.

mod brood;
mod groups;
mod published;

use actix_web::web;

/// Every page of the area.
pub fn pages(cfg: &mut web::ServiceConfig) {
    cfg.service(brood::show);
    cfg.service(published::show_all).service(published::show);
    cfg.service(groups::show_all).service(groups::start).service(groups::show);
    cfg.service(groups::invite).service(groups::join).service(groups::leave);
    cfg.service(published::setting).service(published::save);
}

/// The part of the site that these pages are.
pub const HERE: &str = "/groups";
