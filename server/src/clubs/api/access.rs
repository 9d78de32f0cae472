//! What a handler about one club needs of its caller, named in its signature: [`Member`], [`Secretary`].
//!
//! The club is the `{club}` of the address. Roles are read from the database at every request; a stranger is told
//! that there is nothing.

use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest, web};
use futures_util::future::LocalBoxFuture;
use tarn_domain::clubs::Role;
use uuid::Uuid;

use crate::clubs::{refusals, store};
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

impl FromRequest for Secretary {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self>>;

    fn from_request(req: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let (who, req) = (FreshSession::from_request(req, payload), req.clone());
        Box::pin(async move {
            let (FreshSession(who), club) = (who.await?, club_of(&req)?);
            let ctx = req.app_data::<web::Data<Ctx>>().ok_or_else(|| Problem::new(&FAILED))?;
            let roles = roles_of_member(ctx, club, who.account).await?;
            if roles.contains(&Role::Secretary) {
                Ok(Self { who, club })
            } else {
                Err(refusals::role_missing(Role::Secretary))
            }
        })
    }
}
