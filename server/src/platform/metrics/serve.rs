//! The listener of its own on which `/metrics` is read, and nothing else. Whoever reaches it may read it: it is for the
//! machine itself or a network of one's own.

use std::net::SocketAddr;

use actix_web::dev::Server;
use actix_web::http::header::CACHE_CONTROL;
use actix_web::{App, HttpResponse, HttpServer, get, web};

use super::page;
use crate::platform::ctx::Ctx;
use crate::platform::errors::{Problem, Result};

/// The text format that every scraper reads.
const TEXT: &str = "text/plain; version=0.0.4; charset=utf-8";

/// Opens it where the settings say; nowhere, if they don't.
pub fn listen(ctx: &Ctx) -> Result<Option<(Server, SocketAddr)>> {
    let Some(wanted) = ctx.config.metrics_listen else { return Ok(None) };
    let shared = web::Data::new(ctx.clone());
    let http = HttpServer::new(move || App::new().app_data(shared.clone()).service(metrics))
        .workers(1)
        .shutdown_timeout(2)
        .disable_signals()
        .bind(wanted)
        .map_err(|err| Problem::failed("listening for metrics", err))?;
    let address = http.addrs().first().copied().unwrap_or(wanted);
    Ok(Some((http.run(), address)))
}

#[get("/metrics")]
async fn metrics(ctx: web::Data<Ctx>) -> Result<HttpResponse> {
    let text = page(&ctx).await?;
    Ok(HttpResponse::Ok().content_type(TEXT).insert_header((CACHE_CONTROL, "no-store")).body(text))
}
