//! Somebody leaves the server: all clubs at once, and what clubs wrote down of them.

use futures_util::FutureExt;
use futures_util::future::LocalBoxFuture;
use serde_json::{Value, json};
use tarn_domain::clubs::Role;
use uuid::Uuid;

use super::super::refusals::LAST_SECRETARY;
use super::super::store;
use super::membership;
use crate::accounts::store as accounts_store;
use crate::platform::html::rfc3339;
use crate::platform::{Ctx, Problem, Result, Write};

/// Ends every membership. Who is the last secretary of a club that has other members can't leave; a club of one goes on
/// empty, and the operator can name its next officer.
///
/// # Errors
/// `last-secretary`, with the club's name.
pub fn leave_server(w: &mut Write, account: Uuid) -> LocalBoxFuture<'_, Result<()>> {
    async move {
        for member in store::clubs_of(w.tx(), account).await? {
            let club = member.club;
            store::lock_club(w.tx(), club).await?;
            let is_last = store::accounts_with_role(w.tx(), club, Role::Secretary).await? == [account];
            if is_last && !store::is_alone(w.tx(), club, account).await? {
                let name = store::club(w.tx(), club).await?.map(|row| row.name).unwrap_or_default();
                let why =
                    format!("You are the only secretary of {name}. Give the role to somebody else first.");
                return Err(Problem::new(&LAST_SECRETARY).detail(why));
            }
            membership::end_any(w, club, account).await?;
        }
        // an address that others have too stays theirs
        if let Some(row) = accounts_store::account(w.tx(), account).await?
            && !row.email.is_empty()
            && !accounts_store::is_others_address(w.tx(), &row.email, account).await?
        {
            store::forget_address(w.tx(), &row.email, w.now).await?;
        }
        store::forget(w.tx(), account).await
    }
    .boxed_local()
}

/// What clubs keep of somebody.
pub fn own_data(ctx: &Ctx, account: Uuid) -> LocalBoxFuture<'_, Result<Value>> {
    async move {
        let conn = &ctx.db.conn;
        let mut members = Vec::new();
        for member in store::clubs_of(conn, account).await? {
            let club = store::club(conn, member.club).await?;
            let roles = store::roles_in(conn, member.club, account).await?.unwrap_or_default();
            members.push(json!({
                "club": member.club, "name": club.map(|row| row.name),
                "roles": roles.into_iter().map(Role::as_str).collect::<Vec<_>>(),
            }));
        }
        let lines = store::lines_of(conn, account).await?.into_iter().map(|row| {
            json!({"club": row.club, "number": row.number, "name": row.name, "email": row.email,
                "household": row.household, "guest": row.guest, "paid_until": row.paid_until, "lapsed": row.lapsed,
                "since": rfc3339(row.made_ms), "left_at": row.left_ms.map(rfc3339)})
        });
        let invitations = store::invitations_with(conn, account).await?.into_iter().map(|row| {
            json!({"club": row.club, "made_by_you": row.invited_by == Some(account), "email": row.email,
                "made_at": rfc3339(row.made_ms), "used_at": row.used_ms.map(rfc3339)})
        });
        Ok(json!({"member_of": members, "lines_of_member_lists": lines.collect::<Vec<_>>(),
            "invitations": invitations.collect::<Vec<_>>()}))
    }
    .boxed_local()
}
