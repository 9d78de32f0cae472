//! What people do with rooms outside the sync: make one, share it, read it, write an entry on a page.

pub mod caretaker;
pub mod entry;
mod giving_up;
pub mod helping;
mod known;
pub mod links;
pub mod probes;
pub mod read;
pub mod water;

pub use giving_up::{give_up, leave, own_data};
pub use known::known_login;

use sea_orm::DatabaseConnection;
use tarn_domain::catalogue::Body;
use tarn_domain::clubs::Role;
use tarn_domain::streams::{AccountId, At, EpochId, OpId, StreamId};

use known::may_keep;

use super::refusals::{LAST_KEEPER, ROOM_TAKEN};
use super::{KIND, store};
use crate::clubs;
use crate::platform::errors::{INVALID, NOT_FOUND, Problem};
use crate::platform::messages::{Line, tell};
use crate::platform::{Ctx, Result, actor::Actor, write::Write, write::write};
use crate::streams::refusals::STREAM_GONE;
use crate::streams::{self, Incoming, Path, store as streams_store};

const DAY_MS: i64 = 86_400_000;

/// Whether an account is a secretary of the room's home club.
pub async fn is_officer_of(conn: &DatabaseConnection, account: AccountId, room: StreamId) -> Result<bool> {
    match store::room(conn, room).await?.and_then(|room| room.home_club) {
        Some(club) => clubs::store::has_role(conn, club, account.0, Role::Secretary).await,
        None => Ok(false),
    }
}

/// Makes a room with the account as its keeper. The same id by a keeper of it is done already.
///
/// # Errors
/// `room-taken`, `stream-gone`, `invalid`.
pub async fn create(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    id: StreamId,
    name: &str,
    zone: &str,
) -> Result<()> {
    let name = name.trim();
    if name.is_empty() || name.chars().count() > 80 || name.chars().any(char::is_control) {
        return Err(Problem::new(&INVALID)
            .detail("A room has a name of 1 to 80 characters.")
            .at("/name", "1 to 80"));
    }
    if zone.is_empty()
        || zone.len() > 64
        || !zone.bytes().all(|b| b.is_ascii_alphanumeric() || b"/_+-".contains(&b))
    {
        let why = "a name of the IANA time zone database, like Europe/Oslo or UTC";
        return Err(Problem::new(&INVALID).detail(format!("The zone is {why}.")).at("/zone", why));
    }
    write(ctx, actor, async |w| {
        if store::room(w.tx(), id).await?.is_some() {
            let mine = store::is_keeper(w.tx(), id, account).await?;
            return if mine { Ok(()) } else { Err(Problem::new(&ROOM_TAKEN)) };
        }
        if streams_store::is_gone(w.tx(), id).await? {
            let was_theirs = streams_store::is_gone_for(w.tx(), id, account).await?;
            return Err(Problem::new(if was_theirs { &STREAM_GONE } else { &ROOM_TAKEN }));
        }
        let epoch = EpochId(ctx.ids.random_id());
        streams_store::new_stream(w.tx(), id, KIND, epoch, w.ctx().config.fold_version, w.now).await?;
        store::insert(w.tx(), id, name, zone, w.now).await?;
        store::add_keeper(w.tx(), id, account, w.now).await?;
        w.audit("rooms", format!("room {id} made by {account}"));
        Ok(())
    })
    .await
}

/// Makes another account a keeper too.
///
/// # Errors
/// `not-found` for a room the caller does not keep, or for whoever shares no club with them; `by-guardian`.
pub async fn add_keeper(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    room: StreamId,
    login: &str,
) -> Result<()> {
    write(ctx, actor, async |w| {
        let nothing = || Problem::new(&NOT_FOUND);
        if !store::is_keeper(w.tx(), room, account).await? {
            return Err(nothing());
        }
        let other = known_login(w.tx(), account, login).await?;
        let id = AccountId(other.id);
        if store::is_keeper(w.tx(), room, id).await? {
            return Ok(());
        }
        may_keep(w.tx(), account, id).await?;
        store::add_keeper(w.tx(), room, id, w.now).await?;
        // both are told, and so is who answers for one of them
        let names = store::people(w.tx(), [account, id]).await?;
        let name = |id: AccountId| names.get(&id).map_or("Somebody", String::as_str);
        let kept = store::room(w.tx(), room).await?.map(|row| row.name).unwrap_or_default();
        let fact = format!("keeper:{room}:{id}:{}", w.now.div_euclid(DAY_MS));
        let href = || Some(format!("/rooms/{room}/people"));
        let text = format!("{} lets you keep {kept} together from now on.", name(account));
        tell(w, Line { account: id.0, fact: &fact, text: &text, href: href() }).await?;
        let text = format!("{} keeps {kept} with you from now on.", name(id));
        tell(w, Line { account: account.0, fact: &fact, text: &text, href: href() }).await?;
        w.audit("rooms", format!("{} keeps room {room} too", other.id));
        Ok(())
    })
    .await
}

/// Ends somebody's keeping of a room.
///
/// # Errors
/// `not-found`, `last-keeper`.
pub async fn end_keeper(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    room: StreamId,
    login: &str,
) -> Result<()> {
    write(ctx, actor, async |w| {
        store::lock(w.tx(), room).await?;
        let nothing = || Problem::new(&NOT_FOUND);
        if !store::is_keeper(w.tx(), room, account).await? {
            return Err(nothing());
        }
        let other = store::account_of_login(w.tx(), login).await?.ok_or_else(nothing)?;
        let left = store::keepers(w.tx(), room).await?;
        if !left.iter().any(|(id, until)| until.is_none() && id.0 != other.id) {
            return Err(Problem::new(&LAST_KEEPER));
        }
        if !store::is_keeper(w.tx(), room, AccountId(other.id)).await? {
            return Err(nothing());
        }
        no_longer(w, room, AccountId(other.id)).await
    })
    .await
}

/// Somebody keeps a room no longer: what they let others do there ends with it, and they don't come back as caretaker.
async fn no_longer(w: &mut Write, room: StreamId, account: AccountId) -> Result<()> {
    store::end_keeper(w.tx(), room, account, w.now).await?;
    if store::caretaker(w.tx(), room).await?.is_some_and(|row| row.account == account.0) {
        store::end_caretaker(w.tx(), room).await?;
    }
    let ended = store::links::end_made_by(w.tx(), room, account, w.now).await?;
    let probes = store::probes::end_made_by(w.tx(), room, account, w.now).await?;
    w.audit(
        "rooms",
        format!("{account} keeps room {room} no longer; {ended} helpers’ links and {probes} probes of theirs ended"),
    );
    Ok(())
}

/// Writes one entry on a page. The form carries the id, so that pressing twice is once.
///
/// # Errors
/// What the stream refuses.
pub async fn enter(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    room: StreamId,
    id: OpId,
    at: Option<At>,
    body: Body,
) -> Result<u64> {
    write(ctx, actor, async |w| {
        if !store::is_keeper(w.tx(), room, account).await? {
            return Err(Problem::new(&NOT_FOUND));
        }
        let incoming = Incoming { id, at, body: body.clone() };
        Ok(streams::append(w, room, vec![incoming], Path::Page(account)).await?.head)
    })
    .await
}
