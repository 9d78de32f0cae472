//! Pages of lineage: a brood with its ancestry.

mod brood;

use actix_web::web;

/// Every page of the area.
pub fn pages(cfg: &mut web::ServiceConfig) {
    cfg.service(brood::show);
}

/// The part of the site that these pages are.
const HERE: &str = "/lines";
