//! What happens to every request: headers that keep browsers safe, readable refusals, limits.
//!
//! No area and no rule; what answers a request is listed in `app.rs`.

use std::sync::Arc;

use actix_web::body::{EitherBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::{Method, StatusCode, header};
use actix_web::middleware::Next;
use actix_web::{HttpRequest, HttpResponse, ResponseError, web};
use askama::Template;

use super::ctx::Ctx;
use super::errors::{
    self, FAILED, MALFORMED, METHOD_NOT_ALLOWED, NOT_FOUND, NOT_SIGNED_IN, Problem, Result, TOO_LARGE,
};
use super::html::{self, Link, Page};
use super::telemetry;

/// JSON and forms; a push of ops has its own limit.
const BODY_LIMIT: usize = 256 * 1024;

const SCRIPTLESS: &str =
    "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'";
/// The reader of the API document sets styles from its script and has its pictures in line.
const DOCS: &str = "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; base-uri 'none'; \
    frame-ancestors 'none'; object-src 'none'";

/// Nothing from elsewhere, in no frame; `same-origin` and not `no-referrer`, since with that browsers hide the
/// Origin of our own forms; an address that is a secret has none. No answer is kept on the way or in the browser but
/// those that are the same for everybody. A handler that set one itself keeps its own. Text says its charset.
pub async fn safe_headers<B: MessageBody>(
    req: ServiceRequest,
    next: Next<B>,
) -> std::result::Result<ServiceResponse<B>, actix_web::Error> {
    let is_docs = req.path().starts_with("/docs/");
    let policy = if is_docs { DOCS } else { SCRIPTLESS };
    let kept = if is_docs { "public, max-age=600" } else { "no-store" };
    let referrer = if telemetry::is_secret(req.path()) { "no-referrer" } else { "same-origin" };
    let mut answer = next.call(req).await?;
    let headers = [
        (header::CONTENT_SECURITY_POLICY, policy),
        (header::REFERRER_POLICY, referrer),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::CROSS_ORIGIN_OPENER_POLICY, "same-origin"),
        (header::CACHE_CONTROL, kept),
    ];
    for (name, value) in headers {
        if !answer.headers().contains_key(&name) {
            answer.headers_mut().insert(name, header::HeaderValue::from_static(value));
        }
    }
    if let Some(kind) = answer.headers().get(header::CONTENT_TYPE).and_then(with_charset) {
        answer.headers_mut().insert(header::CONTENT_TYPE, kind);
    }
    Ok(answer)
}

/// All text is UTF-8, and says so; what says it already is left as it is.
fn with_charset(kind: &header::HeaderValue) -> Option<header::HeaderValue> {
    let text = kind.to_str().ok()?;
    let is_text = text.starts_with("text/") || text.contains("+xml");
    if !is_text || text.contains("charset") {
        return None;
    }
    header::HeaderValue::from_str(&format!("{text}; charset=utf-8")).ok()
}

/// Limits, and what is said about a request that can't be read.
pub fn readers(cfg: &mut web::ServiceConfig) {
    cfg.app_data(web::PayloadConfig::new(BODY_LIMIT))
        .app_data(
            web::JsonConfig::default().limit(BODY_LIMIT).error_handler(|err, _| unreadable(&err).into()),
        )
        .app_data(web::QueryConfig::default().error_handler(|err, _| unreadable(&err).into()))
        // An address whose parts can't be ids is an address where nothing is.
        .app_data(web::PathConfig::default().error_handler(|_, _| Problem::new(&NOT_FOUND).into()));
}

fn unreadable(err: &impl ResponseError) -> Problem {
    let kind = if err.status_code() == StatusCode::PAYLOAD_TOO_LARGE { &TOO_LARGE } else { &MALFORMED };
    Problem::new(kind).detail(err.to_string())
}

/// The methods of every address, to tell 405 from 404.
#[derive(Clone, Default)]
pub struct Addresses(Arc<Vec<(String, Vec<Method>)>>);

impl Addresses {
    /// From patterns like `/api/v1/rooms/{room}`.
    pub fn new(all: Vec<(String, Vec<Method>)>) -> Self {
        Self(Arc::new(all))
    }

    fn methods_at(&self, path: &str) -> Vec<&Method> {
        let fits = |pattern: &str| {
            let (mut wanted, mut given) = (pattern.split('/'), path.split('/'));
            loop {
                match (wanted.next(), given.next()) {
                    (None, None) => return true,
                    (Some(w), Some(g)) if w == g || (w.starts_with('{') && !g.is_empty()) => {}
                    _ => return false,
                }
            }
        };
        self.0.iter().filter(|(pattern, _)| fits(pattern)).flat_map(|(_, methods)| methods).collect()
    }
}

/// What answers where nothing else does.
pub async fn nothing_here(req: HttpRequest, addresses: web::Data<Addresses>) -> HttpResponse {
    let methods = addresses.methods_at(req.path());
    if methods.is_empty() {
        return HttpResponse::from_error(Problem::new(&NOT_FOUND));
    }
    let allowed: Vec<&str> = methods.into_iter().map(Method::as_str).collect();
    let mut answer = HttpResponse::from_error(Problem::new(&METHOD_NOT_ALLOWED));
    if let Ok(value) = header::HeaderValue::from_str(&allowed.join(", ")) {
        answer.headers_mut().insert(header::ALLOW, value);
    }
    answer
}

/// Makes every refusal readable: problem+json for programs, a page for people, the sign-in page for people who
/// are not signed in.
pub async fn readable_refusals<B: MessageBody + 'static>(
    req: ServiceRequest,
    next: Next<B>,
) -> std::result::Result<ServiceResponse<EitherBody<B>>, actix_web::Error> {
    let answer = next.call(req).await?;
    if !answer.status().is_client_error() && !answer.status().is_server_error() {
        return Ok(answer.map_into_left_body());
    }
    let told = {
        let err = answer.response().error();
        match err.and_then(|err| err.as_error::<Problem>()) {
            Some(problem) => html::wants_html(answer.request()).then(|| page(answer.request(), problem)),
            None if is_told(&answer) => None,
            None => {
                let problem = Problem::new(kind_of(answer.status()));
                let as_page = html::wants_html(answer.request());
                Some(if as_page { page(answer.request(), &problem) } else { problem.error_response() })
            }
        }
    };
    let Some(mut told) = told else { return Ok(answer.map_into_left_body()) };
    if let Some(allow) = answer.headers().get(header::ALLOW) {
        told.headers_mut().insert(header::ALLOW, allow.clone());
    }
    let (req, _) = answer.into_parts();
    Ok(ServiceResponse::new(req, told).map_into_right_body())
}

/// A page that came back, or a problem that was already written out.
fn is_told(answer: &ServiceResponse<impl MessageBody>) -> bool {
    let kind = answer.headers().get(header::CONTENT_TYPE).and_then(|v| v.to_str().ok()).unwrap_or("");
    kind.starts_with("text/html") || kind.starts_with(errors::CONTENT_TYPE)
}

fn kind_of(status: StatusCode) -> &'static errors::Kind {
    match status.as_u16() {
        404 => &NOT_FOUND,
        405 => &METHOD_NOT_ALLOWED,
        413 => &TOO_LARGE,
        400..=499 => &MALFORMED,
        _ => &FAILED,
    }
}

#[derive(Template)]
#[template(path = "problem.html")]
struct ProblemPage<'a> {
    page: Page,
    detail: &'a str,
    code: &'a str,
    status: u16,
    about: Option<String>,
    ways: Vec<Link>,
    when: String,
}

fn page(req: &HttpRequest, problem: &Problem) -> HttpResponse {
    let kind = problem.kind();
    if kind == &NOT_SIGNED_IN && req.method() == Method::GET {
        let next: String = html::encoded(req.uri().path_and_query().map_or("/", |p| p.as_str()));
        return html::see_other(&format!("/sign-in?next={next}"));
    }
    let Some(ctx) = req.app_data::<web::Data<Ctx>>() else { return problem.error_response() };
    let template = ProblemPage {
        page: Page::plain(ctx, kind.title),
        detail: problem.sentence(),
        code: kind.code,
        status: kind.status,
        about: Some(format!("/problems/{}", kind.code)),
        ways: vec![Link { href: "/".into(), words: "To the first page".into() }],
        when: html::day_and_time(ctx.clock.now_ms()),
    };
    match template.render() {
        Ok(body) => problem.response().content_type(header::ContentType::html()).body(body),
        Err(err) => Problem::failed("the page of a problem", err).error_response(),
    }
}

/// For handlers that answer nothing.
pub fn no_content() -> Result<HttpResponse> {
    Ok(HttpResponse::NoContent().finish())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_says_its_charset() {
        let told = |kind| with_charset(&header::HeaderValue::from_static(kind));
        for kind in ["text/css", "image/svg+xml", "text/event-stream"] {
            assert_eq!(told(kind).expect(kind), format!("{kind}; charset=utf-8"));
        }
        for kind in ["text/html; charset=utf-8", "application/json", "image/png", "application/jsonl"] {
            assert_eq!(told(kind), None, "{kind}");
        }
    }
}
