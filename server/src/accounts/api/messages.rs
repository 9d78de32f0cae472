//! Messages over JSON.

use actix_web::http::header::LINK;
use actix_web::{HttpResponse, get, put, web};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::accounts::actions;
use crate::entities::messages;
use crate::platform::errors::MALFORMED;
use crate::platform::web::no_content;
use crate::platform::{Ctx, Problem, Result, SignedIn, html};

/// Which messages.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct MessagesQuery {
    /// Only those that were not read.
    #[serde(default)]
    unread: bool,
    /// Where the list goes on: `next` of the answer before.
    after: Option<String>,
    /// How many at most, 1 to 200.
    #[serde(default = "fifty")]
    limit: u64,
}

fn fifty() -> u64 {
    50
}

/// Messages of the caller
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"messages": [{"id": "0192f3a4-0000-5000-8000-000000000001",
    "text": "Q1, stands alone, in Cellar. Its days were done on Mon 25 May, 18:40. A health steward may sign now; nothing may leave before that.",
    "href": "/units/0192f3a4-0000-7000-8000-000000000004/0192f3a4-0000-5000-8000-000000000009",
    "made_at": "2026-05-25T16:40:12Z", "read_at": null}], "unread": 1, "next": null}))]
struct Messages {
    messages: Vec<Message>,
    /// How many the caller has not read, in the whole list
    unread: u64,
    /// Where the list goes on; null at its end
    next: Option<String>,
}

/// A line on somebody's page
#[derive(Serialize, ToSchema)]
struct Message {
    id: Uuid,
    text: String,
    /// Where it leads, on this server
    href: Option<String>,
    made_at: String,
    read_at: Option<String>,
}

impl From<messages::Model> for Message {
    fn from(row: messages::Model) -> Self {
        Self {
            id: row.id,
            text: row.text,
            href: row.href,
            made_at: html::rfc3339(row.made_ms),
            read_at: row.read_ms.map(html::rfc3339),
        }
    }
}

/// List the caller's messages, the newest first
///
/// Each fact is told once. The header `Link` names the next page too.
#[utoipa::path(
    tag = "accounts", operation_id = "list_messages", security(("bearer" = [])), params(MessagesQuery),
    responses((status = 200, description = "Messages", body = Messages))
)]
#[get("/messages")]
pub async fn list_messages(
    ctx: web::Data<Ctx>,
    who: SignedIn,
    query: web::Query<MessagesQuery>,
) -> Result<HttpResponse> {
    let after = match &query.after {
        Some(cursor) => Some(actions::place_of(cursor).ok_or_else(|| {
            Problem::new(&MALFORMED)
                .detail("after is not what `next` of an answer was")
                .at("/after", "No such place.")
        })?),
        None => None,
    };
    let page = actions::messages(&ctx, who.account, after, query.unread, query.limit.clamp(1, 200)).await?;
    let mut answer = HttpResponse::Ok();
    if let Some(next) = &page.next {
        let unread = if query.unread { "&unread=true" } else { "" };
        let link = format!("</api/v1/messages?after={next}&limit={}{unread}>; rel=\"next\"", query.limit);
        answer.insert_header((LINK, link));
    }
    Ok(answer.json(Messages {
        messages: page.lines.into_iter().map(Message::from).collect(),
        unread: page.unread,
        next: page.next,
    }))
}

/// Mark one of the caller's messages as read
#[utoipa::path(
    tag = "accounts", operation_id = "read_message", security(("bearer" = [])),
    params(("message" = Uuid, Path, description = "Which one")),
    responses((status = 204, description = "It is read"))
)]
#[put("/messages/{message}/read")]
pub async fn read_message(
    ctx: web::Data<Ctx>,
    who: SignedIn,
    message: web::Path<Uuid>,
) -> Result<HttpResponse> {
    actions::read_message(&ctx, &who, *message).await?;
    no_content()
}
