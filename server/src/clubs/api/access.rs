//! What a handler about one club needs of its caller, named in its signature: [`Member`], [`Secretary`],
//! [`ListReader`].
//!
//! The club is the `{club}` of the address. Roles are read from the database at every request; a stranger is told
//! that there is nothing.

use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest, web};
use futures_util::future::LocalBoxFuture;
use tarn_domain::clubs::Role;
use uuid::Uuid;

use crate::clubs::{actions, store};
use crate::platform::errors::{FAILED, NOT_FOUND};
use crate::platform::{Ctx, FreshSession, Problem, Result, SignedIn};

/// A member of the club in the address.
#[derive(Clone, Copy, Debug)]
pub struct Member {
    /// Who it is.
    pub who: SignedIn,
    /// Which club.
    pub club: Uuid,
}

/// A secretary of the club in the address, whose session lives.
#[derive(Clone, Copy, Debug)]
pub struct Secretary {
    /// Who it is.
    pub who: SignedIn,
    /// Which club.
    pub club: Uuid,
}

fn club_of(req: &HttpRequest) -> Result<Uuid> {
    let nothing = || Problem::new(&NOT_FOUND).detail("There is no club with this id.");
    req.match_info().get("club").and_then(|id| id.parse().ok()).ok_or_else(nothing)
}

/// The roles of a member; a stranger gets "nothing here".
pub async fn roles_of_member(ctx: &Ctx, club: Uuid, account: Uuid) -> Result<Vec<Role>> {
    let roles = store::roles_in(&ctx.db.conn, club, account).await?;
    roles.ok_or_else(|| Problem::new(&NOT_FOUND).detail("There is no club with this id."))
}

impl FromRequest for Member {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self>>;

    fn from_request(req: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let (who, req) = (SignedIn::from_request(req, payload), req.clone());
        Box::pin(async move {
            let (who, club) = (who.await?, club_of(&req)?);
            let ctx = req.app_data::<web::Data<Ctx>>().ok_or_else(|| Problem::new(&FAILED))?;
            roles_of_member(ctx, club, who.account).await?;
            Ok(Self { who, club })
        })
    }
}

/// Who may read the member list of the club in the address: a secretary or a treasurer, whose session lives.
#[derive(Clone, Copy, Debug)]
pub struct ListReader {
    /// Which club.
    pub club: Uuid,
}

/// The caller and the club, if the caller has one of these roles there; the first is named if not.
async fn officer(
    req: HttpRequest,
    who: impl Future<Output = Result<FreshSession>>,
    roles: &[Role],
) -> Result<(SignedIn, Uuid)> {
    let (FreshSession(who), club) = (who.await?, club_of(&req)?);
    let ctx = req.app_data::<web::Data<Ctx>>().ok_or_else(|| Problem::new(&FAILED))?;
    let has = roles_of_member(ctx, club, who.account).await?;
    if has.iter().any(|role| roles.contains(role)) {
        return Ok((who, club));
    }
    Err(actions::refused(ctx, club, who.account, roles).await?)
}

impl FromRequest for Secretary {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self>>;

    fn from_request(req: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let asked = officer(req.clone(), FreshSession::from_request(req, payload), &[Role::Secretary]);
        Box::pin(async move { asked.await.map(|(who, club)| Self { who, club }) })
    }
}

impl FromRequest for ListReader {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self>>;

    fn from_request(req: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let roles = &[Role::Secretary, Role::Treasurer];
        let asked = officer(req.clone(), FreshSession::from_request(req, payload), roles);
        Box::pin(async move { asked.await.map(|(_, club)| Self { club }) })
    }
}
