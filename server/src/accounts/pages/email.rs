//! The page of one's address, and the one that the link in a letter opens.

use actix_web::{HttpRequest, HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;

use super::factor::{came_back, code_field};
use crate::accounts::actions::{self, NewEmail};
use crate::accounts::store;
use crate::platform::csrf::{Form, OpenForm};
use crate::platform::errors::NOT_FOUND;
use crate::platform::html::{Field, FormErrors, Link, Page, render, see_other};
use crate::platform::{Ctx, PageSession, Problem, Result, Visitor, transport};

const HERE: &str = "/account/email";

/// The pages of this file.
pub fn addresses(cfg: &mut web::ServiceConfig) {
    cfg.service(show).service(set).service(ask_again).service(asked).service(proved);
}

#[derive(Template)]
#[template(path = "accounts/email.html")]
struct EmailPage {
    page: Page,
    lead: String,
    said: Option<&'static str>,
    errors: Option<FormErrors>,
    /// Whether a letter can be asked for.
    may_ask: bool,
    email: Field,
    password: Field,
    /// Only where there is a second factor.
    code: Option<Field>,
}

impl EmailPage {
    async fn new(
        ctx: &Ctx,
        session: &PageSession,
        typed: Option<&str>,
        problem: Option<&Problem>,
    ) -> Result<Self> {
        let conn = &ctx.db.conn;
        let person = store::account(conn, session.who.account).await?;
        let person = person.ok_or_else(|| Problem::new(&NOT_FOUND))?;
        let is_proven = store::is_proven(conn, &person).await?;
        let has_factor = store::has_factor(conn, person.id).await?;
        let has_mail = ctx.post.is_some();
        let lead = match (person.email.as_str(), is_proven, has_mail) {
            ("", ..) => {
                "You have given no address: a forgotten password can't be reset by a letter.".to_owned()
            }
            (email, true, _) => {
                format!("{email} is proven. A forgotten password is reset by a letter to it.")
            }
            (email, false, true) => format!(
                "{email} is not proven: open the link in the letter that was sent to it. Until then nothing else is \
                 sent there."
            ),
            (email, false, false) => format!("{email}. This server sends no mail, so nothing goes to it."),
        };
        Ok(Self {
            page: Page::of(ctx, session, "E-mail", "/account"),
            lead,
            said: None,
            errors: problem.map(|problem| FormErrors::of("Not changed", problem)),
            may_ask: has_mail && !is_proven && !person.email.is_empty(),
            email: Field { required: false, ..Field::new("email", "Address") }
                .hint("Two people may share one.")
                .typed(typed.unwrap_or(&person.email), problem),
            password: Field::new("password", "Your password").typed("", problem),
            code: has_factor
                .then(|| code_field(problem).hint("Six digits from your phone, or a recovery code.")),
        })
    }
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Done {
    done: Option<String>,
}

#[get("/account/email")]
async fn show(ctx: web::Data<Ctx>, session: PageSession, done: web::Query<Done>) -> Result<HttpResponse> {
    let said = match done.done.as_deref() {
        Some("set") => Some("Your address is changed."),
        Some("asked") => Some("A letter is on its way, unless one went out lately."),
        _ => None,
    };
    render(&EmailPage { said, ..EmailPage::new(&ctx, &session, None, None).await? })
}

#[derive(Deserialize)]
struct Typed {
    #[serde(default)]
    email: String,
    #[serde(default)]
    password: String,
    code: Option<String>,
}

#[post("/account/email")]
async fn set(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    form: Form<Typed>,
) -> Result<HttpResponse> {
    let (address, typed) = (transport::visitor_address(&req, &ctx.config), &form.fields);
    let new = NewEmail { email: &typed.email, password: &typed.password, code: typed.code.as_deref() };
    match actions::set_email(&ctx, &session.who, address, new).await {
        Ok(()) => Ok(see_other(&format!("{HERE}?done=set"))),
        Err(problem) => {
            let page = EmailPage::new(&ctx, &session, Some(&typed.email), Some(&problem)).await?;
            came_back(problem, |_| page)
        }
    }
}

#[derive(Deserialize)]
struct Nothing {}

#[post("/account/email/letter")]
async fn ask_again(ctx: web::Data<Ctx>, session: PageSession, _form: Form<Nothing>) -> Result<HttpResponse> {
    actions::ask_for_proof(&ctx, &session.who).await?;
    Ok(see_other(&format!("{HERE}?done=asked")))
}

#[derive(Template)]
#[template(path = "accounts/prove.html")]
struct ProvePage {
    page: Page,
    lead: String,
    /// What the button sends; none once it was pressed.
    token: Option<String>,
    on: Option<Link>,
}

#[derive(Deserialize)]
struct Token {
    token: String,
}

/// Only shows a button: a program that follows links in mail proves nothing.
#[get("/prove")]
async fn asked(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    visitor: Visitor,
    query: web::Query<Token>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    let email = actions::address_to_prove(&ctx, &query.token, address).await?;
    render(&ProvePage {
        page: Page::for_visitor(&ctx, &visitor, "Your address"),
        lead: format!("If {email} is yours, press the button."),
        token: Some(query.into_inner().token),
        on: None,
    })
}

#[post("/prove")]
async fn proved(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    visitor: Visitor,
    form: OpenForm<Token>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    actions::prove(&ctx, &form.fields.token, address).await?;
    render(&ProvePage {
        page: Page::for_visitor(&ctx, &visitor, "Your address is proven"),
        lead: "A forgotten password can be reset by a letter to it from now on.".into(),
        token: None,
        on: Some(Link { href: "/account".into(), words: "To the account".into() }),
    })
}
