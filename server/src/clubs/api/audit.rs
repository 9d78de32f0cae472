//! What was done in a club, over JSON.

use actix_web::http::header::LINK;
use actix_web::{HttpResponse, get, web};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::access::Secretary;
use crate::clubs::actions::{self, Doer, Done};
use crate::platform::errors::MALFORMED;
use crate::platform::{Ctx, Problem, Result, audit, html};

/// Which part of the list.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct AuditQuery {
    /// Where the list goes on: `next` of the answer before.
    after: Option<String>,
    /// How many at most, 1 to 200.
    #[serde(default = "fifty")]
    limit: u64,
    /// The number of the seal to show; the newest if it is left out.
    seal: Option<i64>,
}

fn fifty() -> u64 {
    50
}

/// What was done in a club
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"facts": [{"id": 41, "at": "2026-03-01T09:30:00Z",
    "by": {"kind": "account", "account": "0192f3a4-0000-7000-8000-000000000001", "shown_name": "Mira K."},
    "area": "clubs", "fact": "somebody invited into club 0192f3a4-0000-7000-8000-000000000003",
    "words": "somebody invited into the club", "seal": 17}],
    "seal": {"number": 17, "at": "2026-03-01T09:31:00Z", "hash": "3f2a 9b1c …"}, "next": null}))]
struct AuditPage {
    facts: Vec<AuditFact>,
    /// The seal that was asked for, or the newest; null if there is none
    seal: Option<Seal>,
    /// Where the list goes on; null at its end
    next: Option<String>,
}

/// Something that was done
#[derive(Serialize, ToSchema)]
struct AuditFact {
    id: i64,
    at: String,
    by: By,
    /// In which part of the server
    area: String,
    /// What was done, naming everything by its id
    fact: String,
    /// The same with names for the ids of people
    words: String,
    /// The number of the seal that holds it; null until the next minute
    seal: Option<i64>,
}

/// Who did something
#[derive(Serialize, ToSchema)]
struct By {
    /// `account`, `operator` or `server`
    kind: &'static str,
    account: Option<Uuid>,
    /// Null for somebody who is not in the club now
    shown_name: Option<String>,
}

/// A seal over what was done on the whole server
#[derive(Serialize, ToSchema)]
struct Seal {
    /// One after the other, from 1
    number: i64,
    at: String,
    /// In groups of four, as it stands in the officers' mail
    hash: String,
}

impl From<Doer> for By {
    fn from(doer: Doer) -> Self {
        match doer {
            Doer::Member(id, name) => Self { kind: "account", account: Some(id), shown_name: Some(name) },
            Doer::Gone(id) => Self { kind: "account", account: Some(id), shown_name: None },
            Doer::Operator => Self { kind: "operator", account: None, shown_name: None },
            Doer::Server => Self { kind: "server", account: None, shown_name: None },
        }
    }
}

impl From<Done> for AuditFact {
    fn from(done: Done) -> Self {
        let Done { fact, by, words } = done;
        Self {
            id: fact.id,
            at: html::rfc3339(fact.at_ms),
            by: by.into(),
            area: fact.area,
            fact: fact.fact,
            words,
            seal: fact.seal,
        }
    }
}

/// List what was done in the club, the newest first
///
/// For its secretaries. The header `Link` names the next page too. Every minute what is new is sealed, in a chain of
/// hashes over the whole server: if a seal ever reads otherwise than it did, something before it was changed.
#[utoipa::path(
    tag = "clubs", operation_id = "list_audit", security(("bearer" = [])),
    params(("club" = Uuid, Path, description = "Which club"), AuditQuery),
    responses((status = 200, description = "What was done", body = AuditPage)),
    extensions(("x-problems" = json!(["role-missing", "second-factor-required", "session-ended"])))
)]
#[get("/clubs/{club}/audit")]
pub async fn list_audit(
    ctx: web::Data<Ctx>,
    by: Secretary,
    query: web::Query<AuditQuery>,
) -> Result<HttpResponse> {
    let after = match &query.after {
        Some(cursor) => Some(actions::audit_place(cursor).ok_or_else(|| {
            Problem::new(&MALFORMED)
                .detail("after is not what `next` of an answer was")
                .at("/after", "No such place.")
        })?),
        None => None,
    };
    let page = actions::audit(&ctx, by.club, after, query.limit.clamp(1, 200), query.seal).await?;
    let mut answer = HttpResponse::Ok();
    if let Some(next) = &page.next {
        let link =
            format!("</api/v1/clubs/{}/audit?after={next}&limit={}>; rel=\"next\"", by.club, query.limit);
        answer.insert_header((LINK, link));
    }
    Ok(answer.json(AuditPage {
        facts: page.done.into_iter().map(AuditFact::from).collect(),
        seal: page.seal.map(|seal| Seal {
            number: seal.number,
            at: html::rfc3339(seal.at_ms),
            hash: audit::in_groups(&seal),
        }),
        next: page.next,
    }))
}
