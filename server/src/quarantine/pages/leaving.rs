//! What may leave a room.

use actix_web::{HttpResponse, get, web};
use tarn_domain::streams::{AccountId, StreamId};
use uuid::Uuid;

use crate::platform::html::{Page, render};
use crate::platform::{Ctx, PageSession, Result};
use crate::quarantine::views;
use crate::rooms::actions::read::kept;
use crate::rooms::views::Beside;

#[get("/rooms/{room}/leaving")]
pub async fn show(ctx: web::Data<Ctx>, session: PageSession, path: web::Path<Uuid>) -> Result<HttpResponse> {
    let (account, room) = (AccountId(session.who.account), StreamId(*path));
    let (look, ()) = kept(&ctx, account, room, |_| ()).await?;
    let page = Page::of(&ctx, &session, "What may leave", "/units").at(&look.room.name);
    render(&views::leaving_page(page, &look, *ctx.part::<Beside>()))
}
