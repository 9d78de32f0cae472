//! What a handler needs to know about its caller, named in its signature.
//!
//! | extractor | is |
//! | --- | --- |
//! | [`SignedIn`] | an API call with a good access token |
//! | [`FreshSession`] | the same, and the session was looked up and lives: for sign-off, roles, keys, money |
//! | [`Maybe`] | an API call by anybody |
//! | [`Visitor`] | a page for anybody, who may be signed in |
//! | [`PageSession`] | a page for somebody who is signed in (looked up at every request) |
//!
//! The API takes no cookies and the pages no access tokens, so no other site can make a browser call the API.
//! What the caller *may* do is asked where it is done, of the database.

use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::{FromRequest, HttpRequest, web};
use futures_util::future::{LocalBoxFuture, Ready, ready};
use sea_orm::{ConnectionTrait, DatabaseConnection, EntityTrait};
use uuid::Uuid;

use super::actor::Actor;
use super::ctx::Ctx;
use super::errors::{FAILED, NOT_SIGNED_IN, Problem, Result, SESSION_ENDED};
use super::menu::{self, MenuEntry};
use super::{seal, transport};
use crate::entities::{accounts, sessions};

/// A session that nobody renewed for so long is over.
pub const IDLE_MS: i64 = 90 * 86_400_000;

/// Somebody with a good access token.
#[derive(Clone, Copy, Debug)]
pub struct SignedIn {
    /// Which account.
    pub account: Uuid,
    /// In which session.
    pub session: Uuid,
}

impl SignedIn {
    /// As the one who acts in a write.
    pub fn actor(&self) -> Actor {
        Actor::Account { account: self.account, session: self.session }
    }
}

/// Somebody with a good access token whose session lives.
#[derive(Clone, Copy, Debug)]
pub struct FreshSession(pub SignedIn);

/// Anybody.
#[derive(Clone, Copy, Debug)]
pub struct Maybe(pub Option<SignedIn>);

/// Anybody who reads a page.
#[derive(Clone, Debug)]
pub struct Visitor(pub Option<PageSession>);

/// Somebody who is signed in and reads a page.
#[derive(Clone, Debug)]
pub struct PageSession {
    /// Who it is.
    pub who: SignedIn,
    /// What others read.
    pub shown_name: String,
    /// Where they may go.
    pub menu: Vec<MenuEntry>,
}

fn ctx(req: &HttpRequest) -> Result<Ctx> {
    req.app_data::<web::Data<Ctx>>().map(|ctx| ctx.get_ref().clone()).ok_or_else(|| Problem::new(&FAILED))
}

fn bearer(req: &HttpRequest) -> Result<Option<SignedIn>> {
    let ctx = ctx(req)?;
    let Some(sent) = req.headers().get(header::AUTHORIZATION) else { return Ok(None) };
    let token = sent
        .to_str()
        .ok()
        .and_then(|v| v.split_once(' '))
        .filter(|(scheme, _)| scheme.eq_ignore_ascii_case("bearer"));
    let claims = token.and_then(|(_, token)| ctx.tokens.read(token.trim(), ctx.clock.now_ms()));
    let claims = claims
        .ok_or_else(|| Problem::new(&NOT_SIGNED_IN).detail("The access token is not good (any more)."))?;
    Ok(Some(SignedIn { account: claims.sub, session: claims.sid }))
}

/// The session's account, while the session lives.
pub async fn account_of_session(
    db: &DatabaseConnection,
    session: Uuid,
    now_ms: i64,
) -> Result<accounts::Model> {
    let ended = || Problem::new(&SESSION_ENDED);
    let session = sessions::Entity::find_by_id(session).one(db).await?.ok_or_else(ended)?;
    let account = accounts::Entity::find_by_id(session.account).one(db).await?.ok_or_else(ended)?;
    if is_alive(&session, now_ms) && account.closed_ms.is_none() { Ok(account) } else { Err(ended()) }
}

/// When a session began.
pub async fn began_ms(conn: &impl ConnectionTrait, session: Uuid) -> Result<Option<i64>> {
    Ok(sessions::Entity::find_by_id(session).one(conn).await?.map(|session| session.started_ms))
}

/// That a session still lives, asked in a write.
///
/// # Errors
/// `session-ended`.
pub async fn still_alive(conn: &impl ConnectionTrait, session: Uuid, now_ms: i64) -> Result<()> {
    let row = sessions::Entity::find_by_id(session).one(conn).await?;
    if row.is_some_and(|row| is_alive(&row, now_ms)) { Ok(()) } else { Err(Problem::new(&SESSION_ENDED)) }
}

/// Whether a session may still be used.
pub fn is_alive(session: &sessions::Model, now_ms: i64) -> bool {
    session.ended_ms.is_none() && session.last_seen_ms > now_ms - IDLE_MS
}

impl FromRequest for SignedIn {
    type Error = Problem;
    type Future = Ready<Result<Self>>;

    fn from_request(req: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(bearer(req).and_then(|who| who.ok_or_else(|| Problem::new(&NOT_SIGNED_IN))))
    }
}

impl FromRequest for Maybe {
    type Error = Problem;
    type Future = Ready<Result<Self>>;

    fn from_request(req: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(bearer(req).map(Maybe))
    }
}

impl FromRequest for FreshSession {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self>>;

    fn from_request(req: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let (who, ctx) = (SignedIn::from_request(req, payload).into_inner(), ctx(req));
        Box::pin(async move {
            let (who, ctx) = (who?, ctx?);
            account_of_session(&ctx.db.conn, who.session, ctx.clock.now_ms()).await?;
            Ok(Self(who))
        })
    }
}

impl FromRequest for Visitor {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self>>;

    fn from_request(req: &HttpRequest, _: &mut Payload) -> Self::Future {
        let req = req.clone();
        Box::pin(async move {
            let ctx = ctx(&req)?;
            let Some(session) = cookie_session(&req, &ctx)? else { return Ok(Self(None)) };
            match account_of_session(&ctx.db.conn, session, ctx.clock.now_ms()).await {
                Ok(account) => Ok(Self(Some(PageSession {
                    who: SignedIn { account: account.id, session },
                    shown_name: account.shown_name,
                    menu: menu::of(&ctx, account.id).await?,
                }))),
                Err(problem) if problem.kind() == &SESSION_ENDED => Ok(Self(None)),
                Err(problem) => Err(problem),
            }
        })
    }
}

impl FromRequest for PageSession {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self>>;

    fn from_request(req: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let visitor = Visitor::from_request(req, payload);
        Box::pin(async move { visitor.await?.0.ok_or_else(|| Problem::new(&NOT_SIGNED_IN)) })
    }
}

/// The session that the cookie names; it may have ended.
pub fn cookie_session(req: &HttpRequest, ctx: &Ctx) -> Result<Option<Uuid>> {
    let way = transport::way(req, &ctx.config)?;
    let cookie = req.cookie(way.cookie_name());
    Ok(cookie.and_then(|cookie| seal::session_of(&ctx.keys.cookie, cookie.value())))
}
