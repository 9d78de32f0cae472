//! Forms that change something: they must come from our own page, and carry its token when there is a session.
//!
//! [`Form`] is the only way a page takes a POST; at an address that is a secret it is [`SecretForm`], and where nobody's
//! session counts [`OpenForm`].

use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest, web};
use futures_util::future::LocalBoxFuture;
use serde::de::DeserializeOwned;

use super::ctx::Ctx;
use super::errors::{FAILED, FOREIGN_FORM, MALFORMED, Problem, Result, TOO_LARGE};
use super::{auth, seal, transport};

/// The field that carries the token.
const FIELD: &str = "csrf";

/// A form of ours, checked, with its fields.
pub struct Form<T> {
    /// The fields, as a struct; the token is taken out.
    pub fields: T,
    /// The fields as they came, for those that may come several times.
    pub pairs: Vec<(String, String)>,
}

impl<T: DeserializeOwned + 'static> FromRequest for Form<T> {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self>>;

    fn from_request(req: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let body = web::Bytes::from_request(req, payload);
        let req = req.clone();
        Box::pin(async move {
            let body = body.await.map_err(|_| Problem::new(&TOO_LARGE))?;
            let body = std::str::from_utf8(&body).map_err(|_| Problem::new(&MALFORMED))?;
            let mut pairs = read::<Vec<(String, String)>>(body)?;
            check(&req, &pairs)?;
            pairs.retain(|(name, _)| name != FIELD);
            let kept: Vec<&str> =
                body.split('&').filter(|part| part.split('=').next() != Some(FIELD)).collect();
            Ok(Self { fields: read(&kept.join("&"))?, pairs })
        })
    }
}

/// A form that does the same whoever is signed in, or nobody: what counts is a password or a secret in it. It asks for no
/// token of the session in the cookie, which may have ended elsewhere: whoever's has must be able to sign in again.
pub struct OpenForm<T> {
    /// The fields, as a struct.
    pub fields: T,
}

impl<T: DeserializeOwned + 'static> FromRequest for OpenForm<T> {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self>>;

    fn from_request(req: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let body = web::Bytes::from_request(req, payload);
        let req = req.clone();
        Box::pin(async move {
            let body = body.await.map_err(|_| Problem::new(&TOO_LARGE))?;
            let ctx = req.app_data::<web::Data<Ctx>>().ok_or_else(|| Problem::new(&FAILED))?;
            if !transport::is_from_here(&req, &ctx.config) {
                return Err(Problem::new(&FOREIGN_FORM));
            }
            let body = std::str::from_utf8(&body).map_err(|_| Problem::new(&MALFORMED))?;
            let kept: Vec<&str> =
                body.split('&').filter(|part| part.split('=').next() != Some(FIELD)).collect();
            Ok(Self { fields: read(&kept.join("&"))? })
        })
    }
}

/// A form that is sent to an address that is a secret. Its page tells no referrer, so browsers hide the Origin; but no
/// cookie counts there, and no other site knows the address.
pub struct SecretForm<T> {
    /// The fields, as a struct.
    pub fields: T,
    /// The fields as they came, for those that may come several times.
    pub pairs: Vec<(String, String)>,
}

impl<T: DeserializeOwned + 'static> FromRequest for SecretForm<T> {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self>>;

    fn from_request(req: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let body = web::Bytes::from_request(req, payload);
        let site = req.headers().get("sec-fetch-site").and_then(|v| v.to_str().ok()).map(str::to_owned);
        Box::pin(async move {
            if site.is_some_and(|site| site != "same-origin") {
                return Err(Problem::new(&FOREIGN_FORM));
            }
            let body = body.await.map_err(|_| Problem::new(&TOO_LARGE))?;
            let body = std::str::from_utf8(&body).map_err(|_| Problem::new(&MALFORMED))?;
            Ok(Self { fields: read(body)?, pairs: read(body)? })
        })
    }
}

fn read<T: DeserializeOwned>(body: &str) -> Result<T> {
    let read = web::Query::<T>::from_query(body);
    read.map(web::Query::into_inner).map_err(|err| Problem::new(&MALFORMED).detail(err.to_string()))
}

fn check(req: &HttpRequest, pairs: &[(String, String)]) -> Result<()> {
    let ctx = req.app_data::<web::Data<Ctx>>().ok_or_else(|| Problem::new(&FAILED))?;
    if !transport::is_from_here(req, &ctx.config) {
        return Err(Problem::new(&FOREIGN_FORM));
    }
    let Some(session) = auth::cookie_session(req, ctx)? else { return Ok(()) };
    let sent = pairs.iter().find(|(name, _)| name == FIELD).map_or("", |(_, value)| value);
    if seal::is_form_token(&ctx.keys.cookie, session, sent) {
        Ok(())
    } else {
        Err(Problem::new(&FOREIGN_FORM))
    }
}
