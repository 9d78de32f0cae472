//! A keeper gives a room up: its records are taken out of the server for good.

use futures_util::FutureExt;
use futures_util::future::LocalBoxFuture;
use serde_json::{Value, json};
use tarn_domain::streams::{AccountId, StreamId};
use uuid::Uuid;

use super::super::refusals::{NOT_ITS_NAME, OTHER_KEEPERS};
use super::super::store;
use super::no_longer;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::html::rfc3339;
use crate::platform::{Ctx, Result, actor::Actor, write::Write, write::write};
use crate::streams;

/// Gives it up; `name` is the room's, typed again.
///
/// # Errors
/// `not-found`, `not-its-name`, `other-keepers`, and what an area has against it (`parcels-on-their-way`).
pub async fn give_up(ctx: &Ctx, actor: &Actor, account: AccountId, room: StreamId, name: &str) -> Result<()> {
    write(ctx, actor, async |w| {
        if !store::is_keeper(w.tx(), room, account).await? {
            let was_theirs = streams::store::is_gone_for(w.tx(), room, account).await?;
            return if was_theirs { Ok(()) } else { Err(Problem::new(&NOT_FOUND)) };
        }
        store::lock(w.tx(), room).await?;
        let row = store::room(w.tx(), room).await?.ok_or_else(|| Problem::new(&NOT_FOUND))?;
        if row.name != name.trim() {
            let why = format!("Type the room’s name as it stands: {}", row.name);
            return Err(Problem::new(&NOT_ITS_NAME).detail(why.clone()).at("/name", why));
        }
        if store::keepers_of(w.tx(), room).await? != [account] {
            return Err(Problem::new(&OTHER_KEEPERS));
        }
        take_out(w, account, room).await
    })
    .await
}

/// Who leaves the server: rooms that they keep alone go, of the others they are no longer a keeper.
pub fn leave(w: &mut Write, account: Uuid) -> LocalBoxFuture<'_, Result<()>> {
    async move {
        let account = AccountId(account);
        store::forget_caretaker(w.tx(), account).await?;
        // by id, as all who lock several streams do
        let mut rooms = store::rooms_of(w.tx(), account).await?;
        rooms.sort_by_key(|row| row.stream);
        for row in rooms {
            let room = StreamId(row.stream);
            store::lock(w.tx(), room).await?;
            if store::keepers_of(w.tx(), room).await? == [account] {
                take_out(w, account, room).await?;
            } else {
                no_longer(w, room, account).await?;
            }
        }
        Ok(())
    }
    .boxed_local()
}

async fn take_out(w: &mut Write, account: AccountId, room: StreamId) -> Result<()> {
    let keepers: Vec<_> = store::keepers(w.tx(), room).await?.into_iter().map(|(id, _)| id).collect();
    streams::remove(w, room, &keepers).await?;
    w.audit("rooms", format!("room {room} given up by {account}"));
    Ok(())
}

/// What rooms keep of somebody beside the records, which are read as streams: whose caretaker they are, and the helpers'
/// links and probes that they made.
pub fn own_data(ctx: &Ctx, account: Uuid) -> LocalBoxFuture<'_, Result<Value>> {
    async move {
        let (conn, account) = (&ctx.db.conn, AccountId(account));
        let caretaking = store::caretaking(conn, account).await?.into_iter().map(|(room, row)| {
            json!({"room": room.name, "named_at": rfc3339(row.named_ms), "acting_since": row.acting_ms.map(rfc3339)})
        });
        let links = store::links::made_by(conn, account).await?.into_iter().map(|row| {
            json!({"room": row.room, "for": row.name, "made_at": rfc3339(row.made_ms),
                "good_until": rfc3339(row.ended_ms.unwrap_or(row.until_ms))})
        });
        let probes = store::probes::made_by(conn, account).await?.into_iter().map(|row| {
            json!({"room": row.room, "name": row.name, "made_at": rfc3339(row.made_ms),
                "good_until": rfc3339(row.ended_ms.unwrap_or(row.until_ms))})
        });
        Ok(json!({"caretaker_of": caretaking.collect::<Vec<_>>(), "helpers_links": links.collect::<Vec<_>>(),
            "probes": probes.collect::<Vec<_>>()}))
    }
    .boxed_local()
}
