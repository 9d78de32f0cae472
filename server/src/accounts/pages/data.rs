//! The page of one's own data: take it along, or leave.

use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION};
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use askama::Template;
use serde::Deserialize;
use uuid::Uuid;

use super::factor::code_field;
use crate::accounts::{actions, store};
use crate::platform::csrf::Form;
use crate::platform::html::{Field, FormErrors, Page, render, render_refused};
use crate::platform::{Ctx, PageSession, Problem, Result, transport};

#[derive(Template)]
#[template(path = "accounts/data.html")]
struct DataPage {
    page: Page,
    lead: String,
    errors: Option<FormErrors>,
    rooms: Vec<RoomLine>,
    password: Field,
    code: Option<Field>,
}

struct RoomLine {
    id: Uuid,
    name: String,
}

#[derive(Template)]
#[template(path = "accounts/left.html")]
struct LeftPage {
    page: Page,
}

impl DataPage {
    async fn new(ctx: &Ctx, session: &PageSession, problem: Option<&Problem>) -> Result<Self> {
        let has_factor = store::has_factor(&ctx.db.conn, session.who.account).await?;
        let rooms = store::rooms_of(&ctx.db.conn, session.who.account).await?.into_iter();
        Ok(Self {
            page: Page::of(ctx, session, "Your data", "/account"),
            lead: "What this server keeps of you is yours: take it along whenever you want.".into(),
            errors: problem.map(|problem| FormErrors::of("You have not left", problem)),
            rooms: rooms.map(|row| RoomLine { id: row.stream, name: row.name }).collect(),
            password: Field::new("password", "Your password").typed("", problem),
            code: has_factor
                .then(|| code_field(problem).hint("Six digits from your phone, or a recovery code.")),
        })
    }
}

#[get("/account/data")]
pub async fn show_data(ctx: web::Data<Ctx>, session: PageSession) -> Result<HttpResponse> {
    render(&DataPage::new(&ctx, &session, None).await?)
}

#[get("/account/data.json")]
pub async fn download_data(ctx: web::Data<Ctx>, session: PageSession) -> Result<HttpResponse> {
    let all = actions::own_data(&ctx, session.who.account).await?;
    Ok(HttpResponse::Ok()
        .insert_header((CACHE_CONTROL, "no-store"))
        .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"about-me.json\""))
        .json(all))
}

#[derive(Deserialize)]
struct Typed {
    password: String,
    code: Option<String>,
}

#[post("/account/leave")]
pub async fn leave(
    ctx: web::Data<Ctx>,
    req: HttpRequest,
    session: PageSession,
    form: Form<Typed>,
) -> Result<HttpResponse> {
    let address = transport::visitor_address(&req, &ctx.config);
    let own = actions::Shown { password: &form.fields.password, code: form.fields.code.as_deref() };
    match actions::leave_server(&ctx, &session.who, address, own).await {
        Ok(()) => render(&LeftPage { page: Page::plain(&ctx, "Left") }),
        Err(problem) if problem.kind().status < 500 => {
            render_refused(&problem, &DataPage::new(&ctx, &session, Some(&problem)).await?)
        }
        Err(problem) => Err(problem),
    }
}
