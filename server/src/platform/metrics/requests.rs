//! Counting requests. A route is told by its pattern and a method by its name if it is one that is served: what callers
//! make up must not become a label.

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::web;

use super::{Metrics, Stopwatch};
use crate::platform::ctx::Ctx;

/// Counts each request.
pub async fn count_requests<B: MessageBody>(
    req: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<B>, actix_web::Error> {
    let begun = Stopwatch::begin();
    let metrics = req.app_data::<web::Data<Ctx>>().map(|ctx| ctx.part::<Metrics>());
    let method = told(req.method());
    let route = req.match_pattern().map_or_else(|| "none".to_owned(), |pattern| plain(&pattern));
    let answer = next.call(req).await;
    let status = match &answer {
        Ok(answer) => answer.status(),
        Err(err) => err.as_response_error().status_code(),
    };
    if let Some(metrics) = metrics {
        let labels = [method, route.as_str(), class(status)];
        metrics.requests.with_label_values(&labels).observe(begun.took().as_secs_f64());
    }
    answer
}

/// `/rooms/:room` for `/rooms/{room}`: a brace in a label makes some readers stumble.
fn plain(pattern: &str) -> String {
    pattern.replace('{', ":").replace('}', "")
}

fn told(method: &Method) -> &'static str {
    match method.as_str() {
        "GET" => "GET",
        "HEAD" => "HEAD",
        "POST" => "POST",
        "PUT" => "PUT",
        "DELETE" => "DELETE",
        "OPTIONS" => "OPTIONS",
        _ => "other",
    }
}

fn class(status: StatusCode) -> &'static str {
    match status.as_u16() {
        100..=199 => "1xx",
        200..=299 => "2xx",
        300..=399 => "3xx",
        400..=499 => "4xx",
        _ => "5xx",
    }
}
