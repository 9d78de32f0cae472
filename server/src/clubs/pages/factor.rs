//! A club's page, as far as it tells of the second factor that officers need.

use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use uuid::Uuid;

use super::{HERE, Reader};
use crate::accounts::store::has_factor;
use crate::clubs::{actions, store};
use crate::platform::csrf::Form;
use crate::platform::html::see_other;
use crate::platform::{Ctx, PageSession, Result};

/// What the club's page shows of it.
#[derive(Default)]
pub(super) struct FactorPart {
    /// For a secretary: how it stands, what the button does (none without an own factor), and its words.
    pub setting: Option<Setting>,
    /// The reader's own roles, while they wait.
    pub waiting: Option<String>,
}

/// How the setting stands.
pub(super) struct Setting {
    pub sentence: &'static str,
    /// What the form sends and its button says.
    pub turn: Option<(&'static str, &'static str)>,
}

impl FactorPart {
    pub(super) async fn of(ctx: &Ctx, session: &PageSession, reader: &Reader) -> Result<Self> {
        let (conn, account) = (&ctx.db.conn, session.who.account);
        let wants = reader.club.officers_need_factor;
        let has = has_factor(conn, account).await?;
        let held = store::roles_held(conn, reader.club.id, account).await?.unwrap_or_default();
        let waits = wants && !has && !held.is_empty();
        Ok(Self {
            setting: reader.is_secretary().then(|| setting(wants, has)),
            waiting: waits.then(|| super::club::offices(held)),
        })
    }
}

fn setting(wants: bool, has: bool) -> Setting {
    match (wants, has) {
        (true, _) => Setting {
            sentence: "Officers sign in with a code beside their password. Who has no second factor is a member until it \
                is set up.",
            turn: Some(("false", "No longer want it")),
        },
        (false, true) => Setting {
            sentence: "Officers may sign in with their password alone. If you want a second factor, roles of officers \
                without one don\u{2019}t count until it is set up.",
            turn: Some(("true", "Want it of all officers")),
        },
        (false, false) => Setting {
            sentence: "Officers may sign in with their password alone. To want a second factor of them, set up your own \
                first.",
            turn: None,
        },
    }
}

#[derive(Deserialize)]
struct Wanted {
    required: bool,
}

/// Says whether officers need one.
#[post("/clubs/{club}/second-factor")]
pub async fn require(
    ctx: web::Data<Ctx>,
    session: PageSession,
    path: web::Path<Uuid>,
    form: Form<Wanted>,
) -> Result<HttpResponse> {
    Reader::secretary(&ctx, &session, *path).await?;
    actions::require_factor(&ctx, &session.who, *path, form.fields.required).await?;
    Ok(see_other(&format!("{HERE}/{}#factor", *path)))
}
