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

/// What every answer with a problem is sent as.
pub const CONTENT_TYPE: &str = "application/problem+json";

/// A kind of problem; its code is part of the API.
#[derive(Debug, PartialEq, Eq)]
pub struct Kind {
    /// Stable, in the address `/problems/{code}`.
    pub code: &'static str,
    /// The HTTP status when it answers a whole request.
    pub status: u16,
    /// A few words.
    pub title: &'static str,
    /// For the page at its address: what it means and what to do.
    pub explanation: &'static str,
}

/// The kinds that belong to no area.
pub const KINDS: &[&Kind] = &[
    &NOT_FOUND,
    &METHOD_NOT_ALLOWED,
    &MALFORMED,
    &TOO_LARGE,
    &NOT_SIGNED_IN,
    &SESSION_ENDED,
    &FOREIGN_FORM,
    &PLAIN_HTTP,
    &CONFLICT,
    &INVALID,
    &BUSY,
    &STORAGE_FULL,
    &FAILED,
];

/// There is nothing at this address, or nothing for the caller.
pub const NOT_FOUND: Kind = Kind {
    code: "not-found",
    status: 404,
    title: "Nothing here",
    explanation: "There is nothing at this address, or nothing that you may see. The two are answered alike on purpose.",
};
/// The address is right, the method is not.
pub const METHOD_NOT_ALLOWED: Kind = Kind {
    code: "method-not-allowed",
    status: 405,
    title: "Not this method",
    explanation: "The address exists, but not for this HTTP method. The header Allow lists those it has.",
};
/// The request can't be read.
pub const MALFORMED: Kind = Kind {
    code: "malformed",
    status: 400,
    title: "The request can't be read",
    explanation: "A part of the request is not what the API document describes: broken JSON, a missing or unknown field, \
        or a value of the wrong kind. The detail says where.",
};
/// The request is well formed, but a value can't be.
pub const INVALID: Kind = Kind {
    code: "invalid",
    status: 422,
    title: "A value can't be taken",
    explanation: "The request could be read, but one of its values is not possible. The list errors says which and why.",
};
/// More bytes than the limit.
pub const TOO_LARGE: Kind = Kind {
    code: "too-large",
    status: 413,
    title: "Too large",
    explanation: "The request has more bytes than the server takes at once.",
};
/// No credentials, or none that count.
pub const NOT_SIGNED_IN: Kind = Kind {
    code: "not-signed-in",
    status: 401,
    title: "Not signed in",
    explanation: "This needs somebody who is signed in. Send an access token in the header Authorization; if it has \
        run out, get a new one with the refresh token.",
};
/// The session was ended, here or elsewhere.
pub const SESSION_ENDED: Kind = Kind {
    code: "session-ended",
    status: 401,
    title: "The session has ended",
    explanation: "The session was ended, by you, by time, or because an old refresh token was used a second time, \
        which may mean that somebody else has a copy. Sign in again.",
};
/// A form that did not come from our own page.
pub const FOREIGN_FORM: Kind = Kind {
    code: "foreign-form",
    status: 403,
    title: "The form did not come from this site",
    explanation: "The form was sent from another site, or its page was open since an earlier sign-in. Open the page \
        again and send it once more.",
};
/// Pages over plain http, not on this machine.
pub const PLAIN_HTTP: Kind = Kind {
    code: "plain-http",
    status: 403,
    title: "Pages need https",
    explanation: "Over plain http everybody on the way could read the password and take over the session, so the \
        pages are served over https only, or on the machine itself. If https ends at a proxy, set public_url to the \
        https address that people type.",
};
/// Something is there already, or a reference leads nowhere.
pub const CONFLICT: Kind = Kind {
    code: "conflict",
    status: 409,
    title: "It does not fit what is there",
    explanation: "Something with this key exists already, or what the request refers to does not exist (any more).",
};
/// Try again.
pub const BUSY: Kind = Kind {
    code: "busy",
    status: 503,
    title: "Busy",
    explanation: "Other writes were in the way for too long. Nothing was changed; the same request may succeed in a moment.",
};
/// The disk is full.
pub const STORAGE_FULL: Kind = Kind {
    code: "storage-full",
    status: 507,
    title: "The server has no room left",
    explanation: "The server's disk, or the part it may use, is full. Nothing was changed; the operator has to make room.",
};
/// A fault of the server.
pub const FAILED: Kind = Kind {
    code: "failed",
    status: 500,
    title: "The server failed",
    explanation: "A fault of the server, kept in its log. Nothing was changed.",
};

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
