//! Pages of clubs: invitations, a club and what there is to begin with, its people, its rule.

mod audit;
mod club;
mod factor;
mod invitation;
mod people;
mod person;
mod sheet;
mod young;

use actix_web::HttpResponse;
use actix_web::web::ServiceConfig;
use askama::Template;
use serde::Deserialize;
use tarn_domain::clubs::Role;
use tarn_domain::clubs::people::{Field as Of, Typed};
use uuid::Uuid;

use super::api::access::roles_of_member;
use super::{actions, store};
use crate::entities::clubs;
use crate::platform::errors::NOT_FOUND;
use crate::platform::html::{Field, render_refused};
use crate::platform::{Ctx, PageSession, Problem, Result};

/// Every page of the area.
pub fn pages(cfg: &mut ServiceConfig) {
    cfg.service(invitation::invitation).service(invitation::accept).service(invitation::join);
    cfg.service(club::list).service(club::show).service(club::adopt).service(club::leave);
    cfg.service(factor::require).service(young::show).service(young::make).service(young::of_age);
    cfg.service(people::show).service(people::add).service(people::invite).service(people::take_back);
    cfg.service(sheet::paste).service(sheet::lay_over).service(sheet::download);
    cfg.service(person::show).service(person::save).service(person::roles);
    cfg.service(person::invite).service(person::strike).service(audit::show_audit);
}

const HERE: &str = "/clubs";

/// A form with nothing but its button.
#[derive(Deserialize)]
struct Pressed {}

/// A club, and what the reader may do there.
struct Reader {
    club: clubs::Model,
    roles: Vec<Role>,
}

impl Reader {
    async fn of(ctx: &Ctx, session: &PageSession, club: Uuid) -> Result<Self> {
        let roles = roles_of_member(ctx, club, session.who.account).await?;
        let club = store::club(&ctx.db.conn, club).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
        Ok(Self { club, roles })
    }

    fn is_secretary(&self) -> bool {
        self.roles.contains(&Role::Secretary)
    }

    fn reads_the_list(&self) -> bool {
        self.is_secretary() || self.roles.contains(&Role::Treasurer)
    }

    /// For what only a secretary does.
    async fn secretary(ctx: &Ctx, session: &PageSession, club: Uuid) -> Result<Self> {
        let reader = Self::of(ctx, session, club).await?;
        if reader.is_secretary() {
            return Ok(reader);
        }
        Err(actions::refused(ctx, club, session.who.account, &[Role::Secretary]).await?)
    }

    /// For what a secretary and a treasurer read.
    async fn of_the_list(ctx: &Ctx, session: &PageSession, club: Uuid) -> Result<Self> {
        let reader = Self::of(ctx, session, club).await?;
        if reader.reads_the_list() {
            return Ok(reader);
        }
        Err(actions::refused(ctx, club, session.who.account, &[Role::Secretary, Role::Treasurer]).await?)
    }

    fn href(&self) -> String {
        format!("{HERE}/{}", self.club.id)
    }
}

/// The page again with what is wrong on it, if the one who filled its form can put that right; else the problem.
async fn again<T: Template>(
    problem: Problem,
    page: impl AsyncFnOnce(&Problem) -> Result<T>,
) -> Result<HttpResponse> {
    let status = problem.kind().status;
    let for_the_form = status == 409 || status == 412 || !problem.faults().is_empty();
    if !for_the_form || status >= 500 {
        return Err(problem);
    }
    render_refused(&problem, &page(&problem).await?)
}

/// What a form says of a line of the list.
fn typed(pairs: &[(String, String)]) -> Typed {
    let fields = pairs.iter().filter_map(|(name, text)| Some((Of::parse(name)?, text.clone())));
    Typed(fields.collect())
}

/// The fields of a line of the list, with what was typed or stands there.
fn line_fields(typed: &Typed, problem: Option<&Problem>) -> Vec<Field> {
    let field = |of: Of, label| {
        let field = Field::new(of.as_str(), label).typed(typed.get(of).unwrap_or_default(), problem);
        Field { required: of == Of::Name, ..field }
    };
    vec![
        field(Of::Name, "Name"),
        field(Of::Number, "Member number"),
        field(Of::Email, "E-mail"),
        field(Of::Household, "Household").hint("Those who live together have the same, as “Mill Row 3”."),
        field(Of::PaidUntil, "Paid until").hint("As 2026-12-31."),
    ]
}
