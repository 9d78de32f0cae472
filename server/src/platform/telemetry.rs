//! The log: to stderr, as lines for people or JSON for machines (`TARN_LOG`, `TARN_LOG_FORMAT=json`).
//!
//! No passwords, tokens or names go in: requests are logged with the pattern of their route, since an address may hold a
//! login name or be a secret itself.

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{HeaderName, HeaderValue};
use actix_web::middleware::Next;
use tracing::Instrument;
use tracing_subscriber::EnvFilter;

use super::clock::Ids;
use super::metrics::Stopwatch;

/// Whoever knows an address under one of these may read what is there.
const SECRET_PATHS: [&str; 2] = ["/calendar/", "/helping/"];

/// Whether an address is a secret.
pub fn is_secret(path: &str) -> bool {
    SECRET_PATHS.iter().any(|secret| path.starts_with(secret))
}

/// Begins logging. A second call changes nothing.
pub fn begin() {
    let filter = EnvFilter::try_from_env("TARN_LOG").unwrap_or_else(|_| EnvFilter::new("warn"));
    let log = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    let begun = match std::env::var("TARN_LOG_FORMAT").as_deref() {
        Ok("json") => log.json().try_init(),
        _ => log.try_init(),
    };
    if let Err(err) = begun {
        tracing::debug!(%err, "logging had begun");
    }
}

/// One line for each request. What else is logged of it carries the same id, and so does the answer.
pub async fn log_requests<B: MessageBody>(
    req: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<B>, actix_web::Error> {
    let begun = Stopwatch::begin();
    let id = Ids.random_id().simple().to_string();
    let method = req.method().clone();
    let route = req.match_pattern().unwrap_or_else(|| "none".to_owned());
    let span = tracing::error_span!("request", id);
    let mut answer = next.call(req).instrument(span.clone()).await?;
    let (status, took_ms) = (answer.status().as_u16(), begun.took().as_millis());
    span.in_scope(|| tracing::info!(%method, route, status, %took_ms, "answered"));
    if let Ok(id) = HeaderValue::from_str(&id) {
        answer.headers_mut().insert(HeaderName::from_static("x-request-id"), id);
    }
    Ok(answer)
}
