//! The page on which a member makes the account of somebody under age, and the button by which an officer says that
//! somebody is of age.

use actix_web::{HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;
use uuid::Uuid;

use super::{Pressed, Reader, again};
use crate::clubs::actions::people as list;
use crate::clubs::actions::{self, NewYoung};
use crate::platform::csrf::Form;
use crate::platform::errors::NOT_FOUND;
use crate::platform::html::{Field, FormErrors, Page, render, see_other};
use crate::platform::{Ctx, PageSession, Problem, Result};

#[derive(Template)]
#[template(path = "clubs/young.html")]
struct MakePage {
    page: Page,
    errors: Option<FormErrors>,
    href: String,
    login_name: Field,
    name: Field,
    password: Field,
    agreed: Option<String>,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Typed {
    login_name: String,
    name: String,
    password: String,
    agreed: String,
}

async fn page(
    ctx: &Ctx,
    session: &PageSession,
    club: Uuid,
    typed: &Typed,
    problem: Option<&Problem>,
) -> Result<MakePage> {
    let reader = Reader::of(ctx, session, club).await?;
    let wrong = |name: &str| {
        let faults = problem.map(Problem::faults).unwrap_or_default();
        faults.into_iter().find(|(at, _)| *at == name).map(|(_, why)| why.to_owned())
    };
    let shown = Field::new("name", "Name").hint("Read by you and the officers of the club only.");
    Ok(MakePage {
        page: Page::of(ctx, session, "An account for a young person", "/account").at(&reader.club.name),
        errors: problem.map(|problem| FormErrors::of("No account made", problem)),
        href: format!("{}/young", reader.href()),
        login_name: Field::new("login_name", "Login name")
            .hint("Letters a to z, digits, - _ and the full stop. Better not the name: keepers read it on parcels.")
            .typed(&typed.login_name, problem),
        name: Field { error: wrong("/shown_name"), ..shown.typed(&typed.name, None) },
        password: Field::new("password", "Password")
            .hint("15 signs or more. Several words in a row are easy to keep in mind.")
            .typed("", problem),
        agreed: wrong("/agreed"),
    })
}

#[get("/clubs/{club}/young")]
pub async fn show(ctx: web::Data<Ctx>, session: PageSession, club: web::Path<Uuid>) -> Result<HttpResponse> {
    render(&page(&ctx, &session, *club, &Typed::default(), None).await?)
}

#[post("/clubs/{club}/young")]
pub async fn make(
    ctx: web::Data<Ctx>,
    session: PageSession,
    club: web::Path<Uuid>,
    form: Form<Typed>,
) -> Result<HttpResponse> {
    Reader::of(&ctx, &session, *club).await?;
    let typed = &form.fields;
    let wanted = NewYoung {
        login_name: &typed.login_name,
        name: &typed.name,
        password: &typed.password,
        agreed: typed.agreed == "yes",
    };
    match actions::open_young(&ctx, &session.who, *club, wanted).await {
        Ok(_) => Ok(see_other("/account/young?done=made")),
        Err(problem) => {
            again(problem, async |problem| page(&ctx, &session, *club, typed, Some(problem)).await).await
        }
    }
}

/// An officer says that somebody on the list is of age.
#[post("/clubs/{club}/people/{person}/of-age")]
pub async fn of_age(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<(Uuid, Uuid)>,
    _form: Form<Pressed>,
) -> Result<HttpResponse> {
    let reader = Reader::secretary(&ctx, &session, path.0).await?;
    let on = list::one(&ctx, path.0, path.1).await?;
    let login = on.login.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    actions::no_longer_young(&ctx, &session.who, path.0, login.id).await?;
    Ok(see_other(&format!("{}/people/{}?done=grown", reader.href(), path.1)))
}
