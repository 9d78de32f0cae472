//! The page of a brood, for whoever keeps a room that records it.

use actix_web::{HttpResponse, get, web};
use tarn_domain::streams::{AccountId, NodeId};
use uuid::Uuid;

use super::HERE;
use crate::lineage::{actions, views};
use crate::platform::html::{Page, render};
use crate::platform::{Ctx, PageSession, Result};

#[get("/broods/{brood}")]
pub async fn show(ctx: web::Data<Ctx>, session: PageSession, path: web::Path<Uuid>) -> Result<HttpResponse> {
    let seen = actions::brood::seen(&ctx, AccountId(session.who.account), NodeId(*path)).await?;
    render(&views::brood::page(|title| Page::of(&ctx, &session, title, HERE), &seen))
}
