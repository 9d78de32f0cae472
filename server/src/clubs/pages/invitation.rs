//! The page of an invitation.

use actix_web::{HttpRequest, HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;

use crate::accounts;
use crate::clubs::actions::{self, Accept};
use crate::platform::csrf::{Form, OpenForm};
use crate::platform::html::{Field, FormErrors, Page, render, render_refused, see_other};
use crate::platform::{Ctx, PageSession, Problem, Result, Visitor};

#[derive(Template)]
#[template(path = "accounts/accept.html")]
struct AcceptPage {
    page: Page,
    invited: String,
    errors: Option<FormErrors>,
    token: String,
    login_name: Field,
    shown_name: Field,
    email: Field,
    password: Field,
}

#[derive(Default, Deserialize)]
struct Typed {
    token: String,
    #[serde(default)]
    login_name: String,
    #[serde(default)]
    shown_name: String,
    #[serde(default)]
    email: String,
    #[serde(default)]
    password: String,
}

impl AcceptPage {
    async fn new(ctx: &Ctx, visitor: &Visitor, typed: &Typed, problem: Option<&Problem>) -> Result<Self> {
        let club = actions::invited(ctx, &typed.token).await?;
        let place = club.map_or_else(|| "Tarn".to_owned(), |club| club.name);
        let mut page = Page::for_visitor(ctx, visitor, "Your account");
        page.place.clone_from(&place);
        Ok(Self {
            page,
            invited: format!(
                "{place} has invited you. With an account you can keep your room’s records here."
            ),
            errors: problem.map(|problem| FormErrors::of("No account made", problem)),
            token: typed.token.clone(),
            login_name: Field::new("login_name", "Login name")
                .hint("What you sign in with: letters a to z, digits, - _ and the full stop.")
                .typed(&typed.login_name, problem),
            shown_name: Field::new("shown_name", "Shown name")
                .hint("What others read.")
                .typed(&typed.shown_name, problem),
            email: Field { required: false, ..Field::new("email", "E-mail") }
                .hint("For resetting a forgotten password, and for a digest if you want one.")
                .typed(&typed.email, problem),
            password: Field::new("password", "Password")
                .hint("15 signs or more. Several words in a row are easy to keep in mind.")
                .typed("", problem),
        })
    }
}

#[derive(Template)]
#[template(path = "clubs/join.html")]
struct JoinPage {
    page: Page,
    invited: String,
    token: String,
}

#[get("/invitation")]
pub async fn invitation(
    ctx: web::Data<Ctx>,
    visitor: Visitor,
    query: web::Query<Typed>,
) -> Result<HttpResponse> {
    if let Some(session) = &visitor.0 {
        let token = query.into_inner().token;
        let club = actions::invited(&ctx, &token).await?;
        let place = club.map_or_else(|| "Tarn".to_owned(), |club| club.name);
        let invited = format!("{place} has invited you. You are signed in as {}.", session.shown_name);
        return render(&JoinPage { page: Page::of(&ctx, session, "Join", "").at(place), invited, token });
    }
    let token = Typed { token: query.into_inner().token, ..Typed::default() };
    render(&AcceptPage::new(&ctx, &visitor, &token, None).await?)
}

#[post("/invitation")]
pub async fn accept(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    visitor: Visitor,
    form: OpenForm<Typed>,
) -> Result<HttpResponse> {
    let typed = &form.fields;
    let wanted = Accept {
        token: &typed.token,
        login_name: &typed.login_name,
        email: &typed.email,
        shown_name: &typed.shown_name,
        password: &typed.password,
        what: accounts::what(&req),
        browser: true,
    };
    match actions::accept(&ctx, wanted).await {
        Ok(opened) => accounts::with_cookie(&ctx, &req, opened.session, see_other("/")).await,
        Err(problem) if !problem.faults().is_empty() => {
            render_refused(&problem, &AcceptPage::new(&ctx, &visitor, typed, Some(&problem)).await?)
        }
        Err(problem) => Err(problem),
    }
}

#[derive(Deserialize)]
struct Token {
    #[serde(default)]
    token: String,
}

/// Joins one more club with the account that is signed in.
#[post("/invitation/join")]
pub async fn join(ctx: web::Data<Ctx>, session: PageSession, form: Form<Token>) -> Result<HttpResponse> {
    let who = session.who;
    let club = actions::join(&ctx, &who.actor(), who.account, &form.fields.token).await?;
    Ok(see_other(&club.map_or_else(|| "/".to_owned(), |club| format!("/clubs/{club}"))))
}
