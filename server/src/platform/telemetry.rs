//! The log: to stderr, as lines for people or JSON for machines (`TARN_LOG`, `TARN_LOG_FORMAT=json`).
//!
//! No passwords, tokens or names go in: requests are logged with their path, without its query, and a path that is a
//! secret without that too.

use std::time::Instant;

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::middleware::Next;
use tracing_subscriber::EnvFilter;

/// Whoever knows an address under one of these may read what is there.
const SECRET_PATHS: [&str; 1] = ["/calendar/"];

/// The path as it may be told: up to where its secret begins.
pub fn told(path: &str) -> &str {
    SECRET_PATHS.into_iter().find(|secret| path.starts_with(secret)).unwrap_or(path)
}

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

/// One line for each request.
#[allow(clippy::disallowed_methods, reason = "how long a request took is no fact that anything rests on")]
pub async fn log_requests<B: MessageBody>(
    req: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<B>, actix_web::Error> {
    let begun = Instant::now();
    let (method, path) = (req.method().clone(), told(req.path()).to_owned());
    let answer = next.call(req).await?;
    let took_ms = begun.elapsed().as_millis();
    tracing::info!(%method, path, status = answer.status().as_u16(), %took_ms, "answered");
    Ok(answer)
}
