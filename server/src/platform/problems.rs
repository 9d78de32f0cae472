//! `/problems/{code}`: the page that documents a kind of problem, at the address its `type` names.

use actix_web::{HttpResponse, get, web};
use askama::Template;

use super::ctx::Ctx;
use super::errors::{Kind, NOT_FOUND, Problem, Result};
use super::html::{Page, render};

/// Every kind of problem this server knows.
pub struct Registry(pub Vec<&'static Kind>);

#[derive(Template)]
#[template(path = "problems/problem.html")]
struct KindPage {
    page: Page,
    code: &'static str,
    status: u16,
    means: &'static str,
    clears: Vec<String>,
    members: Vec<Member>,
}

struct Member {
    name: String,
    means: String,
}

#[get("/problems/{code}")]
async fn problem(
    code: web::Path<String>,
    all: web::Data<Registry>,
    ctx: web::Data<Ctx>,
) -> Result<HttpResponse> {
    let kind = all.0.iter().find(|kind| kind.code == code.as_str()).ok_or(Problem::new(&NOT_FOUND))?;
    render(&KindPage {
        page: Page::plain(&ctx, kind.title),
        code: kind.code,
        status: kind.status,
        means: kind.explanation,
        clears: vec![],
        members: vec![],
    })
}

/// Its route.
pub fn pages(cfg: &mut web::ServiceConfig) {
    cfg.service(problem);
}
