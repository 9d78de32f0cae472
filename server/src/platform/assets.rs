//! Style sheets, fonts and pictures, built into the program: every file of `server/assets`.
//!
//! Public and the same for everybody; nothing of a person goes here.

use actix_web::http::header::{self, ETag, EntityTag, IfNoneMatch};
use actix_web::{HttpResponse, get, web};
use sha2::{Digest, Sha256};

use super::errors::{NOT_FOUND, Problem, Result};

// `ASSETS: &[(&str, &[u8])]`, the files by their path in the folder; written by build.rs.
include!(concat!(env!("OUT_DIR"), "/assets.rs"));

#[get("/assets/{path:.*}")]
async fn asset(path: web::Path<String>, known: Option<web::Header<IfNoneMatch>>) -> Result<HttpResponse> {
    let (name, bytes) =
        ASSETS.iter().find(|(name, _)| *name == path.as_str()).ok_or(Problem::new(&NOT_FOUND))?;
    let tag = EntityTag::new_strong(short_digest(bytes));
    let mut answer = HttpResponse::Ok();
    answer.insert_header(ETag(tag.clone())).insert_header((header::CACHE_CONTROL, "public, max-age=600"));
    let unchanged = match known.map(web::Header::into_inner) {
        Some(IfNoneMatch::Any) => true,
        Some(IfNoneMatch::Items(tags)) => tags.iter().any(|known| known.weak_eq(&tag)),
        None => false,
    };
    if unchanged {
        return Ok(answer.status(actix_web::http::StatusCode::NOT_MODIFIED).finish());
    }
    Ok(answer.content_type(content_type(name)).body(*bytes))
}

fn short_digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes)[..8].iter().map(|byte| format!("{byte:02x}")).collect()
}

fn content_type(name: &str) -> &'static str {
    match name.rsplit('.').next() {
        Some("css") => "text/css; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("svg") => "image/svg+xml",
        Some("woff2") => "font/woff2",
        Some("png") => "image/png",
        _ => "text/plain; charset=utf-8",
    }
}

/// Its route.
pub fn pages(cfg: &mut web::ServiceConfig) {
    cfg.service(asset);
}
