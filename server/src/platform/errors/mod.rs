//! Every "no" of the server, as RFC 9457 problems.
//!
//! A [`Kind`] is a stable code with its explanation; a [`Problem`] is one occurrence. Areas declare their kinds in
//! their `refusals.rs`; `app.rs` lists them all, and `/problems/{code}` documents each. Which rule says no is
//! not decided here.

use std::fmt;

use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, ResponseError};
use sea_orm::DbErr;
use serde_json::{Map, Value, json};

use super::dialect::{Trouble, trouble};

mod kinds;

pub use kinds::*;

/// What every answer with a problem is sent as.
pub const CONTENT_TYPE: &str = "application/problem+json";

/// One occurrence of a [`Kind`].
pub struct Problem(Box<Inner>);

struct Inner {
    kind: &'static Kind,
    detail: Option<String>,
    errors: Vec<Value>,
    more: Map<String, Value>,
    retry_after_s: Option<u64>,
    again: bool,
}

/// What handlers, actions and stores give.
pub type Result<T, E = Problem> = std::result::Result<T, E>;

impl Problem {
    /// An occurrence of this kind.
    pub fn new(kind: &'static Kind) -> Self {
        Self(Box::new(Inner {
            kind,
            detail: None,
            errors: vec![],
            more: Map::new(),
            retry_after_s: None,
            again: false,
        }))
    }

    /// What happened, in plain words.
    pub fn detail(mut self, detail: impl Into<String>) -> Self {
        self.0.detail = Some(detail.into());
        self
    }

    /// Which part of the request is wrong (a JSON Pointer), and why.
    pub fn at(mut self, pointer: &str, detail: impl Into<String>) -> Self {
        self.0.errors.push(json!({"pointer": pointer, "detail": detail.into()}));
        self
    }

    /// A further member of the problem object.
    pub fn with(mut self, member: &str, value: impl Into<Value>) -> Self {
        self.0.more.insert(member.to_owned(), value.into());
        self
    }

    /// When it makes sense to ask again.
    pub fn retry_after(mut self, seconds: u64) -> Self {
        self.0.retry_after_s = Some(seconds);
        self
    }

    /// Its kind.
    pub fn kind(&self) -> &'static Kind {
        self.0.kind
    }

    /// What happened, in plain words; the kind's explanation where nothing more is known.
    pub fn sentence(&self) -> &str {
        self.0.detail.as_deref().unwrap_or(self.0.kind.explanation)
    }

    /// The same in a few words: the kind's title where nothing more is known.
    pub fn short(&self) -> &str {
        self.0.detail.as_deref().unwrap_or(self.0.kind.title)
    }

    /// The single faults, as (pointer, why).
    pub fn faults(&self) -> Vec<(&str, &str)> {
        fn text<'a>(fault: &'a Value, member: &str) -> &'a str {
            fault.get(member).and_then(Value::as_str).unwrap_or("")
        }
        self.0.errors.iter().map(|fault| (text(fault, "pointer"), text(fault, "detail"))).collect()
    }

    /// Whether the same transaction may succeed when it is run again.
    pub fn is_worth_a_retry(&self) -> bool {
        self.0.again
    }

    /// The problem object.
    pub fn to_value(&self) -> Value {
        let inner = &self.0;
        let mut object = Map::new();
        object.insert("type".into(), format!("/problems/{}", inner.kind.code).into());
        object.insert("title".into(), inner.kind.title.into());
        object.insert("status".into(), inner.kind.status.into());
        object.insert("detail".into(), self.sentence().into());
        if !inner.errors.is_empty() {
            object.insert("errors".into(), inner.errors.clone().into());
        }
        object.extend(inner.more.clone());
        Value::Object(object)
    }

    /// The headers that go with it, in whatever form it is sent.
    pub fn response(&self) -> actix_web::HttpResponseBuilder {
        let mut response = HttpResponse::build(self.status_code());
        if let Some(seconds) = self.0.retry_after_s {
            response.insert_header((header::RETRY_AFTER, seconds));
        }
        if self.0.kind.status == 401 {
            response.insert_header((header::WWW_AUTHENTICATE, "Bearer"));
        }
        response
    }
}

impl From<&'static Kind> for Problem {
    fn from(kind: &'static Kind) -> Self {
        Self::new(kind)
    }
}

impl From<DbErr> for Problem {
    fn from(err: DbErr) -> Self {
        match trouble(&err) {
            Trouble::Again => {
                tracing::info!(%err, "a transaction was in the way");
                let mut problem = Self::new(&BUSY).retry_after(1);
                problem.0.again = true;
                problem
            }
            Trouble::Full => {
                tracing::error!(%err, "the database is full");
                Self::new(&STORAGE_FULL)
            }
            Trouble::Conflict => {
                tracing::info!(%err, "a key was taken or a reference missing");
                Self::new(&CONFLICT)
            }
            Trouble::Broken => Self::failed("the database", err),
        }
    }
}

impl Problem {
    /// A fault of ours: logged in full, told in general.
    pub fn failed(what: &str, cause: impl fmt::Display) -> Self {
        tracing::error!(%cause, "{what} failed");
        Self::new(&FAILED)
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.short(), self.0.kind.code)
    }
}

impl fmt::Debug for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.to_value())
    }
}

impl std::error::Error for Problem {}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.0.kind.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    fn error_response(&self) -> HttpResponse {
        self.response().content_type(CONTENT_TYPE).body(self.to_value().to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_problem_has_the_members_of_the_standard_and_its_own() {
        let problem = Problem::new(&INVALID).detail("No.").at("/name", "is empty").with("limit", 3);
        assert_eq!(
            problem.to_value(),
            json!({"type": "/problems/invalid", "title": "A value can't be taken", "status": 422, "detail": "No.",
                   "errors": [{"pointer": "/name", "detail": "is empty"}], "limit": 3})
        );
        assert_eq!(problem.faults(), vec![("/name", "is empty")]);
    }

    #[test]
    fn codes_are_unique() {
        let mut codes: Vec<_> = KINDS.iter().map(|k| k.code).collect();
        codes.sort_unstable();
        codes.dedup();
        assert_eq!(codes.len(), KINDS.len());
    }
}
