//! The member list as a sheet: taken over the list, or given out.

use actix_web::http::header::CONTENT_DISPOSITION;
use actix_web::{HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;
use uuid::Uuid;

use super::{HERE, Reader, again};
use crate::clubs::actions::sheet;
use crate::platform::csrf::Form;
use crate::platform::html::{Field, FormErrors, Link, Page, render};
use crate::platform::{Ctx, PageSession, Problem, Result};

#[derive(Template)]
#[template(path = "clubs/sheet.html")]
struct SheetPage {
    page: Page,
    lead: &'static str,
    said: Option<String>,
    errors: Option<FormErrors>,
    href: String,
    sheet: Field,
}

async fn page(
    ctx: &Ctx,
    session: &PageSession,
    club: Uuid,
    said: Option<String>,
    came_back: Option<(&str, &Problem)>,
) -> Result<SheetPage> {
    let reader = Reader::secretary(ctx, session, club).await?;
    let (typed, problem) = came_back.map_or(("", None), |(typed, problem)| (typed, Some(problem)));
    let mut page = Page::of(ctx, session, "A sheet of people", HERE);
    page.place.clone_from(&reader.club.name);
    let mut field = Field::new("sheet", "The sheet")
        .hint("Save your spreadsheet as CSV, open that in an editor, and paste all of it, with the line of names at its top.")
        .typed(typed, None);
    let all = |problem: &Problem| {
        problem
            .faults()
            .into_iter()
            .map(|(_, why)| Link { href: "#sheet".into(), words: why.to_owned() })
            .collect()
    };
    let errors =
        problem.map(|problem| FormErrors { links: all(problem), ..FormErrors::of("Nothing taken", problem) });
    field.error = problem.map(|problem| problem.short().to_owned());
    Ok(SheetPage {
        page,
        lead: "All of the sheet is taken, or nothing. Whoever is not in it stays as they are.",
        said,
        errors,
        href: reader.href(),
        sheet: field,
    })
}

/// The form.
#[get("/clubs/{club}/people/sheet")]
pub async fn paste(ctx: web::Data<Ctx>, session: PageSession, path: web::Path<Uuid>) -> Result<HttpResponse> {
    render(&page(&ctx, &session, *path, None, None).await?)
}

#[derive(Deserialize)]
struct Pasted {
    #[serde(default)]
    sheet: String,
}

/// Takes a sheet.
#[post("/clubs/{club}/people/sheet")]
pub async fn lay_over(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<Pasted>,
) -> Result<HttpResponse> {
    Reader::secretary(&ctx, &session, *path).await?;
    match sheet::import(&ctx, &session.who.actor(), *path, &form.fields.sheet).await {
        Ok(done) => {
            let said = format!(
                "{} put on the list, {} written anew, {} as they were.",
                done.added, done.changed, done.same
            );
            render(&page(&ctx, &session, *path, Some(said), None).await?)
        }
        Err(problem) => {
            let pasted = form.fields.sheet.as_str();
            again(problem, async |problem| page(&ctx, &session, *path, None, Some((pasted, problem))).await)
                .await
        }
    }
}

/// The list as a file.
#[get("/clubs/{club}/people.csv")]
pub async fn download(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
) -> Result<HttpResponse> {
    Reader::of_the_list(&ctx, &session, *path).await?;
    let text = sheet::export(&ctx, *path).await?;
    Ok(HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8")
        .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"members.csv\""))
        .body(text))
}
