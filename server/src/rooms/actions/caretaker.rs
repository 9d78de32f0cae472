//! A caretaker acts for a room's keepers in illness or death: named by a keeper, and a keeper once they say so.
//!
//! Nobody is asked when they begin, since those who could be asked may not be able to answer; all keepers and the
//! secretaries of the room's club are told at once, and a keeper who is there ends it.

use tarn_domain::streams::{AccountId, StreamId};

use super::super::refusals::{KEEPS_IT_ALREADY, NO_CARETAKER};
use super::super::store;
use super::DAY_MS;
use super::known::{known_login, may_keep};
use crate::clubs::actions::tell_officers;
use crate::entities::room_caretakers;
use crate::platform::errors::{NOT_FOUND, Problem};
use crate::platform::messages::{Line, tell};
use crate::platform::{Ctx, Result, Write, actor::Actor, write::write};

/// Names somebody, in the place of whoever was named before.
///
/// # Errors
/// `not-found` for a room the caller does not keep, or for whoever shares no club with them; `by-guardian`,
/// `keeps-it-already`.
pub async fn name(ctx: &Ctx, actor: &Actor, account: AccountId, room: StreamId, login: &str) -> Result<()> {
    write(ctx, actor, async |w| {
        kept(w, room, account).await?;
        let other = known_login(w.tx(), account, login).await?;
        may_keep(w.tx(), account, AccountId(other.id)).await?;
        if store::is_keeper(w.tx(), room, AccountId(other.id)).await? {
            return Err(Problem::new(&KEEPS_IT_ALREADY));
        }
        let row = room_caretakers::Model {
            room: room.0,
            account: other.id,
            named_by: account.0,
            named_ms: w.now,
            acting_ms: None,
        };
        store::save_caretaker(w.tx(), row).await?;
        let name = room_name(w, room).await?;
        let text = format!("You are the caretaker of {name}: act for its keepers when they can’t.");
        // one line a day of the same room, however often they are named
        let fact = format!("caretaker:{room}:{}", w.now.div_euclid(DAY_MS));
        tell(w, Line { account: other.id, fact: &fact, text: &text, href: Some("/rooms".into()) }).await?;
        w.audit("rooms", format!("account {} named caretaker of room {room} by {account}", other.id));
        Ok(())
    })
    .await
}

/// Nobody is named any more. Who acts already stays a keeper until a keeper ends that.
///
/// # Errors
/// `not-found` for a room the caller does not keep.
pub async fn end(ctx: &Ctx, actor: &Actor, account: AccountId, room: StreamId) -> Result<()> {
    write(ctx, actor, async |w| {
        kept(w, room, account).await?;
        store::end_caretaker(w.tx(), room).await?;
        w.audit("rooms", format!("room {room} has no caretaker any more, by {account}"));
        Ok(())
    })
    .await
}

/// The caretaker begins to act: from now on they keep the room too.
///
/// # Errors
/// `no-caretaker` for everybody else.
pub async fn take_over(ctx: &Ctx, actor: &Actor, account: AccountId, room: StreamId) -> Result<()> {
    write(ctx, actor, async |w| {
        store::lock(w.tx(), room).await?;
        let row = store::caretaker(w.tx(), room).await?.filter(|row| row.account == account.0);
        let row = row.ok_or_else(|| Problem::new(&NO_CARETAKER))?;
        if store::is_keeper(w.tx(), room, account).await? {
            return Ok(());
        }
        let keepers = store::keepers_of(w.tx(), room).await?;
        store::add_keeper(w.tx(), room, account, w.now).await?;
        store::save_caretaker(w.tx(), room_caretakers::Model { acting_ms: Some(w.now), ..row }).await?;
        let who = store::people(w.tx(), [account]).await?.remove(&account).unwrap_or_default();
        let name = room_name(w, room).await?;
        let text = format!("{who} acts as caretaker of {name} from now on, and keeps it with you.");
        let fact = format!("taken-over:{room}:{}", w.now);
        for keeper in keepers {
            let href = Some(format!("/rooms/{room}/people"));
            tell(w, Line { account: keeper.0, fact: &fact, text: &text, href }).await?;
        }
        if let Some(club) = store::room(w.tx(), room).await?.and_then(|row| row.home_club) {
            tell_officers(w, club, &format!("{who} acts as caretaker of {name} from now on.")).await?;
        }
        w.audit("rooms", format!("account {account} acts as caretaker of room {room}"));
        Ok(())
    })
    .await
}

async fn kept(w: &Write, room: StreamId, account: AccountId) -> Result<()> {
    store::lock(w.tx(), room).await?;
    let keeps = store::is_keeper(w.tx(), room, account).await?;
    if keeps { Ok(()) } else { Err(Problem::new(&NOT_FOUND)) }
}

async fn room_name(w: &Write, room: StreamId) -> Result<String> {
    Ok(store::room(w.tx(), room).await?.map(|row| row.name).unwrap_or_default())
}
