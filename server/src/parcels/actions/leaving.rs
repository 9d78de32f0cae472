//! A room is given up, or somebody leaves the server: what goes of parcels, notices and threads, and what stays.
//!
//! A parcel stays on record at both ends, by ids: what one room sent and another has must go on being right.

use futures_util::FutureExt;
use futures_util::future::LocalBoxFuture;
use sea_orm::ConnectionTrait;
use serde_json::{Value, json};
use tarn_domain::streams::{AccountId, StreamId};
use uuid::Uuid;

use super::super::refusals::PARCELS_ON_THEIR_WAY;
use super::super::store;
use crate::platform::html::rfc3339;
use crate::platform::{Ctx, Problem, Result, Write};

/// A room goes, unless fish of it are on their way.
///
/// # Errors
/// `parcels-on-their-way`.
pub async fn room_goes(conn: &impl ConnectionTrait, room: StreamId) -> Result<()> {
    let open = store::open_of_room(conn, room).await?;
    if open > 0 {
        let words = if open == 1 { "One parcel is".to_owned() } else { format!("{open} parcels are") };
        return Err(Problem::new(&PARCELS_ON_THEIR_WAY).detail(format!("{words} still on the way.")));
    }
    store::forget_names(conn, room).await
}

/// Somebody leaves: their notices end without a word left in them, their lines in threads are emptied, what they
/// proposed and nobody answered is withdrawn.
pub fn leave(w: &mut Write, account: Uuid) -> LocalBoxFuture<'_, Result<()>> {
    async move {
        let account = AccountId(account);
        store::notices::forget(w.tx(), account, w.now).await?;
        store::threads::forget(w.tx(), account).await?;
        store::swaps::forget(w.tx(), account, w.now).await
    }
    .boxed_local()
}

/// What this area keeps of somebody.
pub fn own_data(ctx: &Ctx, account: Uuid) -> LocalBoxFuture<'_, Result<Value>> {
    async move {
        let (conn, account) = (&ctx.db.conn, AccountId(account));
        let notices = store::notices::by(conn, account).await?.into_iter().map(|row| {
            json!({"id": row.id, "club": row.club, "kind": row.kind, "species": row.species, "form": row.form,
                "males": row.males, "females": row.females, "unsexed": row.unsexed, "eggs": row.eggs,
                "price_minor": row.price_minor, "currency": row.currency, "exchange": row.exchange, "area": row.area,
                "remarks": row.remarks, "state": row.state, "made_at": rfc3339(row.made_ms)})
        });
        let lines = store::threads::lines_by(conn, account).await?.into_iter().map(
            |row| json!({"thread": row.thread, "text": row.text, "written_at": rfc3339(row.made_ms)}),
        );
        let swaps = store::swaps::with(conn, account).await?.into_iter().map(|row| {
            json!({"id": row.id, "proposed_by_you": row.proposer == account.0, "you_give": row.give_words,
                "you_ask": row.ask_words, "state": row.state, "made_at": rfc3339(row.made_ms)})
        });
        Ok(json!({"notices": notices.collect::<Vec<_>>(), "lines_written": lines.collect::<Vec<_>>(),
            "swaps": swaps.collect::<Vec<_>>()}))
    }
    .boxed_local()
}
