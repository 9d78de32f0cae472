//! Leaving the server for good, and everything that it keeps of somebody as one document.

use std::net::IpAddr;

use serde_json::{Value, json};
use uuid::Uuid;

use super::super::{refusals, store};
use super::account::{Shown, proven, still_proven};
use super::codes;
use super::young::copied;
use crate::entities::accounts;
use crate::platform::auth::SignedIn;
use crate::platform::errors::NOT_FOUND;
use crate::platform::html::rfc3339;
use crate::platform::messages::Line;
use crate::platform::{Ctx, Problem, Result, Write, leaving, mail, messages, write};

/// More than anybody is ever told.
const MOST_MESSAGES: u64 = 1_000_000;

/// What others read from then on, wherever the name stood.
pub const GONE_NAME: &str = "somebody who left";

/// Closes the account of who knows its password, and has a code where there is a second factor. Its name, address and messages go; the areas take out theirs (rooms that
/// nobody else keeps, memberships, notices); what others hold of it stays, under an id.
///
/// # Errors
/// `sign-in-failed`, `second-factor-needed`, `code-wrong`, `too-many-tries`, `answers-for-young`, and what an area has
/// against it (`last-secretary`, `parcels-on-their-way`).
pub async fn leave_server(ctx: &Ctx, who: &SignedIn, address: IpAddr, shown: Shown<'_>) -> Result<()> {
    let account = proven(ctx, who, address, shown.password, "/password").await?;
    let (code, throttled) = codes::begin(ctx, &account, address, shown.code).await?;
    write(ctx, &who.actor(), async |w| {
        let account = still_proven(w, &account, "/password").await?;
        codes::take_where_wanted(w, account.id, code).await?;
        close(w, &account).await
    })
    .await?;
    codes::forgive(throttled);
    Ok(())
}

/// Takes everything out that names somebody.
///
/// # Errors
/// `answers-for-young`, and what an area has against it.
pub(super) async fn close(w: &mut Write, account: &accounts::Model) -> Result<()> {
    // locked by whoever closes it: nobody becomes its guardian meanwhile
    if store::count_young_of(w.tx(), account.id).await? > 0 {
        return Err(Problem::new(&refusals::ANSWERS_FOR_YOUNG));
    }
    if let Some(young) = store::young(w.tx(), account.id).await? {
        messages::forget_copies(w, &copied(young.clone())).await?;
        let fact = format!("accounts:closed:{}", account.id);
        let text = format!("The account of {} is closed: you answer for it no longer.", account.login_name);
        messages::tell(w, Line { account: young.guardian, fact: &fact, text: &text, href: None }).await?;
    }
    leaving::leave(w, account.id).await?;
    messages::forget(w, account.id).await?;
    // two people may share one address
    if !store::is_others_address(w.tx(), &account.email, account.id).await? {
        mail::forget(w, &account.email).await?;
        store::forget_links_to(w.tx(), &account.email).await?;
    }
    store::forget_links_of(w.tx(), account.id).await?;
    store::close(w.tx(), account.id, GONE_NAME, w.now).await?;
    w.audit("accounts", format!("account {} left the server", account.id));
    Ok(())
}

/// Everything the server keeps of an account, but the records of its rooms, which are read as streams.
pub async fn own_data(ctx: &Ctx, account: Uuid) -> Result<Value> {
    let conn = &ctx.db.conn;
    let row = store::account(conn, account).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
    let sessions = store::sessions_of(conn, account).await?.into_iter().map(|row| {
        json!({"what": row.what, "started_at": rfc3339(row.started_ms), "last_seen_at": rfc3339(row.last_seen_ms)})
    });
    let young = store::young(conn, account).await?;
    let young =
        young.map(|row| json!({"guardian": row.guardian, "name": row.name, "since": rfc3339(row.since_ms)}));
    let in_care = store::young_of(conn, account).await?.into_iter();
    let in_care =
        in_care.map(|row| json!({"account": row.account, "name": row.name, "since": rfc3339(row.since_ms)}));
    let links = store::links_of(conn, account).await?.into_iter().map(|row| {
        json!({"for": row.purpose, "email": row.email, "made_at": rfc3339(row.made_ms), "good_until": rfc3339(row.expires_ms)})
    });
    let devices = store::devices_of(conn, account).await?.into_iter().map(
        |(row, room)| json!({"name": row.name, "room": room, "registered_at": rfc3339(row.registered_ms)}),
    );
    let told = messages::newest(conn, account, None, false, MOST_MESSAGES).await?.into_iter().map(
        |row| json!({"text": row.text, "made_at": rfc3339(row.made_ms), "read_at": row.read_ms.map(rfc3339)}),
    );
    let rooms = store::rooms_of(conn, account).await?.into_iter().map(
        |row| json!({"id": row.stream, "name": row.name, "zone": row.zone, "records": format!("/api/v1/streams/{}/export", row.stream)}),
    );
    let mut all = leaving::own_data(ctx, account).await?;
    all.insert("made_at".into(), rfc3339(ctx.clock.now_ms()).into());
    all.insert(
        "account".into(),
        json!({"id": row.id, "login_name": row.login_name, "shown_name": row.shown_name, "email": row.email,
            "email_proven": store::is_proven(conn, &row).await?, "opened_at": rfc3339(row.made_ms),
            "sessions": sessions.collect::<Vec<_>>(), "devices": devices.collect::<Vec<_>>(),
            "under_age": young, "in_your_care": in_care.collect::<Vec<_>>(), "links_by_mail": links.collect::<Vec<_>>(),
            "messages": told.collect::<Vec<_>>(), "rooms": rooms.collect::<Vec<_>>()}),
    );
    Ok(all.into())
}
