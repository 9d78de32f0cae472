//! The page on which somebody changes their password.

use actix_web::{HttpRequest, HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;

use super::factor::{came_back, code_field};
use crate::accounts::actions::{self, NewPassword};
use crate::accounts::store;
use crate::platform::csrf::Form;
use crate::platform::html::{Field, FormErrors, Page, render, see_other};
use crate::platform::{Ctx, PageSession, Problem, Result, transport};

const HERE: &str = "/account/password";

/// The pages of this file.
pub fn passwords(cfg: &mut web::ServiceConfig) {
    cfg.service(show).service(change);
}

#[derive(Template)]
#[template(path = "accounts/password.html")]
struct PasswordPage {
    page: Page,
    lead: &'static str,
    said: Option<&'static str>,
    errors: Option<FormErrors>,
    old: Field,
    new: Field,
    /// Only where there is a second factor.
    code: Option<Field>,
}

impl PasswordPage {
    async fn new(ctx: &Ctx, session: &PageSession, problem: Option<&Problem>) -> Result<Self> {
        let has_factor = store::has_factor(&ctx.db.conn, session.who.account).await?;
        let long =
            if has_factor { "8 signs or more, beside your second factor." } else { "15 signs or more." };
        Ok(Self {
            page: Page::of(ctx, session, "Password", "/account"),
            lead: "When you change it, you stay signed in here. Everywhere else you are signed out.",
            said: None,
            errors: problem.map(|problem| FormErrors::of("Not changed", problem)),
            old: Field::new("old_password", "Password until now").typed("", problem),
            new: Field::new("new_password", "New password")
                .hint(format!("{long} Several words in a row are easy to keep in mind."))
                .typed("", problem),
            code: has_factor
                .then(|| code_field(problem).hint("Six digits from your phone, or a recovery code.")),
        })
    }
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Done {
    changed: Option<String>,
}

#[get("/account/password")]
async fn show(ctx: web::Data<Ctx>, session: PageSession, done: web::Query<Done>) -> Result<HttpResponse> {
    let said = "Your password is changed. All other sessions have ended.";
    let said = done.changed.is_some().then_some(said);
    render(&PasswordPage { said, ..PasswordPage::new(&ctx, &session, None).await? })
}

#[derive(Deserialize)]
struct Typed {
    #[serde(default)]
    old_password: String,
    #[serde(default)]
    new_password: String,
    code: Option<String>,
}

#[post("/account/password")]
async fn change(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    form: Form<Typed>,
) -> Result<HttpResponse> {
    let (address, typed) = (transport::visitor_address(&req, &ctx.config), &form.fields);
    let new = NewPassword { old: &typed.old_password, new: &typed.new_password, code: typed.code.as_deref() };
    match actions::change_password(&ctx, &session.who, address, new).await {
        Ok(()) => Ok(see_other(&format!("{HERE}?changed=1"))),
        Err(problem) => {
            let page = PasswordPage::new(&ctx, &session, Some(&problem)).await?;
            came_back(problem, |_| page)
        }
    }
}
