//! Pages of line groups: one's own, and one of them.

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, get, post, web};
use serde::Deserialize;
use tarn_domain::streams::AccountId;
use uuid::Uuid;

use super::HERE;
use crate::lineage::actions::groups;
use crate::lineage::views::groups as views;
use crate::platform::csrf::Form;
use crate::platform::errors::{INVALID, NOT_FOUND, Problem};
use crate::platform::html::{Page, render, render_as, see_other};
use crate::platform::{Ctx, PageSession, Result};

#[get("/groups")]
pub async fn show_all(ctx: web::Data<Ctx>, session: PageSession) -> Result<HttpResponse> {
    render(&list(&ctx, &session, None).await?)
}

/// What the form of a new group sends.
#[derive(Default, Deserialize)]
#[serde(default)]
pub struct TypedGroup {
    id: Uuid,
    species: String,
    line: String,
}

async fn list(
    ctx: &Ctx,
    session: &PageSession,
    came_back: Option<(&TypedGroup, &Problem)>,
) -> Result<views::GroupsPage> {
    let all = groups::groups(ctx, AccountId(session.who.account)).await?;
    let page = Page::of(ctx, session, "Line groups", HERE);
    let new = ctx.ids.new_id(ctx.clock.now_ms());
    let typed = came_back.map(|(typed, problem)| ((typed.species.as_str(), typed.line.as_str()), problem));
    Ok(views::groups_page(page, &all, new, typed))
}

#[post("/groups")]
pub async fn start(
    ctx: web::Data<Ctx>,
    session: PageSession,
    form: Form<TypedGroup>,
) -> Result<HttpResponse> {
    let (account, typed) = (AccountId(session.who.account), form.fields);
    match groups::start(&ctx, &session.who.actor(), account, typed.id, (&typed.species, &typed.line)).await {
        Ok(()) => Ok(see_other(&format!("{HERE}/{}", typed.id))),
        Err(problem) if problem.kind() == &INVALID => render_as(
            StatusCode::UNPROCESSABLE_ENTITY,
            &list(&ctx, &session, Some((&typed, &problem))).await?,
        ),
        Err(problem) => Err(problem),
    }
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Done {
    asked: Option<String>,
}

#[get("/groups/{group}")]
pub async fn show(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    done: web::Query<Done>,
) -> Result<HttpResponse> {
    render(&one(&ctx, &session, *path, done.asked.is_some(), None).await?)
}

/// What the form that asks somebody in sends.
#[derive(Default, Deserialize)]
#[serde(default)]
pub struct TypedLogin {
    login: String,
}

async fn one(
    ctx: &Ctx,
    session: &PageSession,
    id: Uuid,
    asked: bool,
    came_back: Option<(&str, &Problem)>,
) -> Result<views::GroupPage> {
    let (group, kept) = groups::group(ctx, AccountId(session.who.account), id).await?;
    let page = |title| Page::of(ctx, session, title, HERE);
    Ok(views::group_page(page, &group, &kept, asked, came_back))
}

#[post("/groups/{group}/invitations")]
pub async fn invite(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<TypedLogin>,
) -> Result<HttpResponse> {
    let (account, login) = (AccountId(session.who.account), form.fields.login.trim().to_owned());
    match groups::invite(&ctx, &session.who.actor(), account, *path, &login).await {
        Ok(()) => Ok(see_other(&format!("{HERE}/{}?asked=1", *path))),
        Err(problem) if problem.kind() == &NOT_FOUND => {
            // for whoever may see the group it is the name that is nobody's
            let nobody = Problem::new(&INVALID)
                .detail("Nobody has this login name")
                .at("/login", "Nobody here has this login name. Ask them what they sign in with.");
            let page = one(&ctx, &session, *path, false, Some((&login, &nobody))).await?;
            render_as(StatusCode::UNPROCESSABLE_ENTITY, &page)
        }
        Err(problem) => Err(problem),
    }
}

/// A form with nothing but its button.
#[derive(Deserialize)]
pub struct Pressed {}

#[post("/groups/{group}/join")]
pub async fn join(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    _form: Form<Pressed>,
) -> Result<HttpResponse> {
    groups::join(&ctx, &session.who.actor(), AccountId(session.who.account), *path).await?;
    Ok(see_other(&format!("{HERE}/{}", *path)))
}

#[post("/groups/{group}/leave")]
pub async fn leave(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    _form: Form<Pressed>,
) -> Result<HttpResponse> {
    groups::leave(&ctx, &session.who.actor(), AccountId(session.who.account), *path).await?;
    Ok(see_other(HERE))
}
