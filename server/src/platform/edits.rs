//! Edits of plain rows: a row says its version in `ETag`, and who changes it says in `If-Match` which one was read.
//! Ops have no edits. Knows no row.

use actix_web::dev::Payload;
use actix_web::http::header::{self, ETag, EntityTag};
use actix_web::{FromRequest, HttpRequest};
use std::future::{Ready, ready};

use super::errors::{IF_MATCH_MISSING, NOT_THE_NEWEST, Problem, Result};

/// Which version the caller read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Expected {
    /// It was not said.
    Missing,
    /// Whichever it is.
    Any,
    /// One of these.
    OneOf(Vec<String>),
}

impl Expected {
    /// Exactly this one: what a form carries.
    pub fn version(version: i32) -> Self {
        Self::OneOf(vec![version.to_string()])
    }

    /// Whether a row of this version may be changed. Asked only of who may see the row.
    ///
    /// # Errors
    /// `if-match-missing`, `not-the-newest`.
    pub fn check(&self, version: i32) -> Result<()> {
        match self {
            Self::Missing => Err(Problem::new(&IF_MATCH_MISSING)),
            Self::OneOf(known) if !known.contains(&version.to_string()) => Err(Problem::new(&NOT_THE_NEWEST)),
            Self::Any | Self::OneOf(_) => Ok(()),
        }
    }
}

/// The header for a row of this version.
pub fn etag(version: i32) -> ETag {
    ETag(EntityTag::new_strong(version.to_string()))
}

impl FromRequest for Expected {
    type Error = Problem;
    type Future = Ready<Result<Self>>;

    fn from_request(req: &HttpRequest, _: &mut Payload) -> Self::Future {
        let sent = req.headers().get_all(header::IF_MATCH).filter_map(|value| value.to_str().ok());
        ready(Ok(read(&sent.collect::<Vec<_>>().join(","))))
    }
}

/// Weak tags never match here, as RFC 9110 asks.
fn read(sent: &str) -> Expected {
    let tags: Vec<&str> = sent.split(',').map(str::trim).filter(|tag| !tag.is_empty()).collect();
    match tags[..] {
        [] => Expected::Missing,
        ["*"] => Expected::Any,
        _ => {
            let strong = |tag: &str| Some(tag.strip_prefix('"')?.strip_suffix('"')?.to_owned());
            Expected::OneOf(tags.into_iter().filter_map(strong).collect())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_read_is_held_against_what_is_there() {
        let code = |sent: &str| read(sent).check(3).err().map(|problem| problem.kind().status);
        assert_eq!(code("\"3\""), None);
        assert_eq!(code("\"2\", \"3\""), None);
        assert_eq!(code("*"), None);
        assert_eq!(code(""), Some(428));
        for other in ["\"2\"", "W/\"3\"", "3", "\"", "\"3"] {
            assert_eq!(code(other), Some(412), "{other}");
        }
    }
}
