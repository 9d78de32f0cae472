//! The member list over JSON and as a sheet.

use actix_web::http::header::{CONTENT_DISPOSITION, LINK};
use actix_web::{HttpResponse, delete, get, post, put, web};
use serde::{Deserialize, Serialize};
use tarn_domain::clubs::people::{Belongs, Field, Typed};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::access::{ListReader, Member, Secretary};
use crate::clubs::actions::people::OnList;
use crate::clubs::actions::{self, people as list, sheet};
use crate::platform::edits::{Expected, etag};
use crate::platform::errors::MALFORMED;
use crate::platform::web::no_content;
use crate::platform::{Ctx, Problem, Result, html};

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct ListQuery {
    /// Where the list goes on: `next` of the answer before.
    after: Option<Uuid>,
    /// How many at most, 1 to 200.
    #[serde(default = "hundred")]
    limit: u64,
}

fn hundred() -> u64 {
    100
}

/// Somebody on a club's member list
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"person": "0192f3a4-0000-7000-8000-000000000009", "number": "7", "name": "Ida Brook",
    "email": "ida@example.org", "household": "Mill Row 3", "guest": false, "paid_until": "2026-12-31", "lapsed": false,
    "standing": "paid", "account": null, "shown_name": null, "roles": [],
    "since": "2026-03-01T09:30:00Z", "version": 1}))]
struct PersonTold {
    person: Uuid,
    /// The club's own number
    number: Option<String>,
    name: String,
    email: Option<String>,
    /// Those who live together have the same
    household: Option<String>,
    guest: bool,
    /// The last day that is paid for
    paid_until: Option<String>,
    /// Whether the membership has lapsed
    lapsed: bool,
    /// `guest`, `lapsed`, `owing`, `paid` or `not_said`, today
    standing: &'static str,
    /// Null for somebody without a login
    account: Option<Uuid>,
    shown_name: Option<String>,
    roles: Vec<&'static str>,
    since: String,
    version: i32,
}

impl From<OnList> for PersonTold {
    fn from(on: OnList) -> Self {
        let login = on.login.as_ref();
        Self {
            person: on.person,
            number: on.line.number.map(|number| number.as_str().to_owned()),
            name: on.line.name.as_str().to_owned(),
            email: on.line.email.map(|email| email.as_str().to_owned()),
            household: on.line.household.map(|household| household.as_str().to_owned()),
            guest: on.line.belongs == Belongs::Guest,
            paid_until: on.line.paid_until.map(|day| day.to_string()),
            lapsed: on.line.lapsed,
            standing: on.standing.as_str(),
            account: login.map(|login| login.id),
            shown_name: login.map(|login| login.shown_name.clone()),
            roles: on.roles.into_iter().map(|role| role.as_str()).collect(),
            since: html::rfc3339(on.since_ms),
            version: on.version,
        }
    }
}

/// A page of the member list
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"people": [{"person": "0192f3a4-0000-7000-8000-000000000009", "number": "7", "name": "Ida Brook",
    "email": null, "household": null, "guest": false, "paid_until": "2026-12-31", "lapsed": false, "standing": "paid",
    "account": null, "shown_name": null, "roles": [], "since": "2026-03-01T09:30:00Z", "version": 1}], "next": null}))]
struct People {
    people: Vec<PersonTold>,
    /// Where the list goes on; null at its end
    next: Option<Uuid>,
}

/// List the people of a club, with or without a login
///
/// For its secretary and treasurer. The header `Link` names the next page too.
#[utoipa::path(
    tag = "clubs", operation_id = "list_people", security(("bearer" = [])),
    params(("club" = Uuid, Path, description = "Which club"), ListQuery),
    responses((status = 200, description = "People, in the order of their ids", body = People)),
    extensions(("x-problems" = json!(["role-missing", "second-factor-required", "session-ended"])))
)]
#[get("/clubs/{club}/people")]
pub async fn list_people(
    ctx: web::Data<Ctx>,
    by: ListReader,
    query: web::Query<ListQuery>,
) -> Result<HttpResponse> {
    let limit = query.limit.clamp(1, 200);
    let mut people = list::list_after(&ctx, by.club, query.after, limit + 1).await?;
    let more = people.len() as u64 > limit;
    people.truncate(usize::try_from(limit).unwrap_or(usize::MAX));
    let next = people.last().filter(|_| more).map(|last| last.person);
    let mut answer = HttpResponse::Ok();
    if let Some(next) = next {
        let here = format!("/api/v1/clubs/{}/people?after={next}&limit={limit}", by.club);
        answer.insert_header((LINK, format!("<{here}>; rel=\"next\"")));
    }
    Ok(answer.json(People { people: people.into_iter().map(PersonTold::from).collect(), next }))
}

/// A line of the member list; what is left out stays as it was, what is null or empty goes
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Ida Brook", "number": "7", "email": "ida@example.org", "household": "Mill Row 3",
    "paid_until": "2026-12-31"}))]
struct PersonLine {
    name: Option<String>,
    #[serde(default, with = "said")]
    number: Option<Option<String>>,
    #[serde(default, with = "said")]
    email: Option<Option<String>>,
    #[serde(default, with = "said")]
    household: Option<Option<String>>,
    guest: Option<bool>,
    /// `2026-12-31`
    #[serde(default, with = "said")]
    paid_until: Option<Option<String>>,
    lapsed: Option<bool>,
}

/// Null is something else than nothing.
mod said {
    use serde::{Deserialize, Deserializer};

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Option<String>>, D::Error> {
        Option::deserialize(from).map(Some)
    }
}

impl PersonLine {
    fn typed(&self) -> Typed {
        let text = |field, said: &Option<Option<String>>| {
            said.as_ref().map(|said| (field, said.clone().unwrap_or_default()))
        };
        let yes =
            |field, said: Option<bool>| said.map(|is| (field, if is { "yes" } else { "no" }.to_owned()));
        let fields = [
            self.name.clone().map(|name| (Field::Name, name)),
            text(Field::Number, &self.number),
            text(Field::Email, &self.email),
            text(Field::Household, &self.household),
            yes(Field::Guest, self.guest),
            text(Field::PaidUntil, &self.paid_until),
            yes(Field::Lapsed, self.lapsed),
        ];
        Typed(fields.into_iter().flatten().collect())
    }
}

/// Put somebody on the member list, or write their line anew
///
/// Somebody new, without a login, comes under an id of the caller's making; the same again changes nothing. A line that
/// is there is written anew with `If-Match`.
#[utoipa::path(
    tag = "clubs", operation_id = "put_person", security(("bearer" = [])), request_body = PersonLine,
    params(("club" = Uuid, Path, description = "Which club"), ("person" = Uuid, Path, description = "Who"),
        ("If-Match" = Option<String>, Header, description = "The version that was read; left out for somebody new")),
    responses((status = 200, description = "As it is now", body = PersonTold)),
    extensions(("x-problems" = json!(["invalid", "role-missing", "second-factor-required", "session-ended", "guests-are-no-officers", "lapsed-are-no-officers",
        "if-match-missing", "not-the-newest"])))
)]
#[put("/clubs/{club}/people/{person}")]
pub async fn put_person(
    ctx: web::Data<Ctx>,
    by: Secretary,
    path: web::Path<(Uuid, Uuid)>,
    expected: Expected,
    body: web::Json<PersonLine>,
) -> Result<HttpResponse> {
    list::put(&ctx, &by.who.actor(), (by.club, path.1), &expected, &body.typed()).await?;
    let on = list::one(&ctx, by.club, path.1).await?;
    Ok(HttpResponse::Ok().insert_header(etag(on.version)).json(PersonTold::from(on)))
}

/// Take somebody off the member list; membership and roles end with it
#[utoipa::path(
    tag = "clubs", operation_id = "strike_person", security(("bearer" = [])),
    params(("club" = Uuid, Path, description = "Which club"), ("person" = Uuid, Path, description = "Who"),
        ("If-Match" = String, Header, description = "The version that was read")),
    responses((status = 204, description = "Off the list")),
    extensions(("x-problems" = json!(["role-missing", "second-factor-required", "session-ended", "last-secretary", "if-match-missing",
        "not-the-newest"])))
)]
#[delete("/clubs/{club}/people/{person}")]
pub async fn strike_person(
    ctx: web::Data<Ctx>,
    by: Secretary,
    path: web::Path<(Uuid, Uuid)>,
    expected: Expected,
) -> Result<HttpResponse> {
    list::strike(&ctx, &by.who.actor(), by.club, path.1, &expected).await?;
    no_content()
}

/// What a sheet did to the member list
#[derive(Serialize, ToSchema)]
struct SheetTaken {
    /// People who were not on the list
    added: usize,
    /// Lines that say something else now
    changed: usize,
    /// Lines that say what was there
    same: usize,
}

/// Lay a sheet over the member list: all of it, or nothing
///
/// CSV with the names of its columns in the first line: `name`, and any of `number`, `email`, `household`, `guest`,
/// `paid_until`, `lapsed`. A line means whoever has its number; without one, whoever has the same name and household.
/// Who is not in the sheet stays; the same sheet again changes nothing. What is wrong is told by line and column.
#[utoipa::path(
    tag = "clubs", operation_id = "import_people", security(("bearer" = [])),
    params(("club" = Uuid, Path, description = "Which club")),
    request_body(content = String, content_type = "text/csv", example = "number,name,paid_until\n8,Nell Marsh,2026-12-31\n"),
    responses((status = 200, description = "Taken", body = SheetTaken, example = json!({"added": 1, "changed": 0, "same": 0}))),
    extensions(("x-problems" = json!(["malformed", "invalid", "role-missing", "second-factor-required", "session-ended", "guests-are-no-officers", "lapsed-are-no-officers"])))
)]
#[post("/clubs/{club}/people/sheet")]
pub async fn import(ctx: web::Data<Ctx>, by: Secretary, body: web::Bytes) -> Result<web::Json<SheetTaken>> {
    let text = std::str::from_utf8(&body)
        .map_err(|_| Problem::new(&MALFORMED).detail("A sheet is text in UTF-8."))?;
    let done = sheet::import(&ctx, &by.who.actor(), by.club, text).await?;
    Ok(web::Json(SheetTaken { added: done.added, changed: done.changed, same: done.same }))
}

/// The member list as a sheet that can be imported again
#[utoipa::path(
    tag = "clubs", operation_id = "export_people", security(("bearer" = [])),
    params(("club" = Uuid, Path, description = "Which club")),
    responses((status = 200, description = "CSV", body = String, content_type = "text/csv",
        example = "number,name,email,household,guest,paid_until,lapsed\n7,Ida Brook,,,,2026-12-31,\n")),
    extensions(("x-problems" = json!(["role-missing", "second-factor-required", "session-ended"])))
)]
#[get("/clubs/{club}/people/sheet")]
pub async fn export(ctx: web::Data<Ctx>, by: ListReader) -> Result<HttpResponse> {
    let text = sheet::export(&ctx, by.club).await?;
    Ok(HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8")
        .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"members.csv\""))
        .body(text))
}

/// Leave a club
///
/// Roles end with membership. The records of one's rooms stay one's own. The last secretary can't leave.
#[utoipa::path(
    tag = "clubs", operation_id = "leave_club", security(("bearer" = [])),
    params(("club" = Uuid, Path, description = "Which club")),
    responses((status = 204, description = "Left")),
    extensions(("x-problems" = json!(["last-secretary"])))
)]
#[delete("/clubs/{club}/membership")]
pub async fn leave(ctx: web::Data<Ctx>, by: Member) -> Result<HttpResponse> {
    actions::leave(&ctx, &by.who.actor(), by.club, by.who.account).await?;
    no_content()
}
