//! The page that says what stands after a signature.

use actix_web::{HttpResponse, get, web};
use tarn_domain::streams::{AccountId, StreamId, UnitId};
use uuid::Uuid;

use super::sign_off::{HERE, PLACE};
use super::who;
use crate::platform::html::{Link, Page, render};
use crate::platform::{Ctx, PageSession, Result};
use crate::quarantine::actions;
use crate::quarantine::views::{self, Signers};
use crate::rooms;

/// Where it is.
pub fn at(room: StreamId, unit: UnitId) -> String {
    format!("{HERE}/{room}/{unit}/signed")
}

#[get("/sign-off/{room}/{unit}/signed")]
pub async fn show(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse> {
    let (account, room, unit) = (AccountId(session.who.account), StreamId(path.0), UnitId(path.1));
    let of = actions::signed(&ctx, account, room, unit).await?;
    let conn = &ctx.db.conn;
    let says = &of.signed.says;
    let people = rooms::store::people(conn, [says.steward]).await?;
    let by = people.get(&says.steward).map_or("a steward", String::as_str);
    let club = who::name(&ctx, says.club).await?;
    let of_club = match says.steward_club {
        Some(other) => Some(who::name(&ctx, other).await?),
        None => None,
    };
    let keeper = rooms::store::is_keeper(conn, room, account).await?;
    let mut missing = Vec::new();
    // While another club has to sign it is still a unit.
    if let Ok(still) = actions::unit(&ctx, account, room, unit).await {
        for id in still.clubs.iter().filter(|id| still.signature(**id).is_none()) {
            missing.push(who::name(&ctx, *id).await?);
        }
    }
    let next = if keeper {
        Link { href: format!("/rooms/{room}"), words: "To the room".into() }
    } else {
        Link { href: HERE.into(), words: "To the next unit".into() }
    };
    let (here, place) = if keeper { ("/units", of.look.room.name.as_str()) } else { (HERE, PLACE) };
    let head = |title| Page::of(&ctx, &session, title, here).at(place);
    let signers = Signers { by, club: &club, of_club: of_club.as_deref(), missing: &missing };
    render(&views::signed_page(head, &of, &signers, next))
}
