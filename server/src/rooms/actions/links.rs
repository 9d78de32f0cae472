//! Links to a room, for who helps there without an account: made, ended, opened, written with. The secret is told once
//! and kept nowhere.

use std::collections::BTreeSet;
use std::net::IpAddr;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde_json::json;
use tarn_domain::catalogue::Body;
use tarn_domain::streams::{AccountId, LinkId, OpId, StreamId, TankId};

use crate::accounts::actions::wrong_secret;
use crate::accounts::store::secret_hash;
use crate::entities::room_links;
use crate::platform::errors::{INVALID, NOT_FOUND, Problem};
use crate::platform::{Ctx, Result, actor::Actor, write::write};
use crate::rooms::actions::DAY_MS;
use crate::rooms::actions::read::kept;
use crate::rooms::refusals::{LINK_OVER, LINK_QUOTA};
use crate::rooms::store;
use crate::streams::{self, Incoming, Path};

/// The longest that a link is good for.
pub const MOST_DAYS: i64 = 60;
/// How many entries a link writes in a day. A round of a big room is far less.
const MOST_A_DAY: i64 = 300;

/// Whether a link is good now.
pub fn is_good(link: &room_links::Model, now_ms: i64) -> bool {
    link.ended_ms.is_none() && now_ms < link.until_ms
}

/// The tanks a link is for; none: all of the room. A list that can't be read is for none of them.
pub fn tanks_of(link: &room_links::Model) -> Option<BTreeSet<TankId>> {
    link.tanks.as_deref().map(|text| serde_json::from_str(text).unwrap_or_default())
}

/// What a keeper says of a new link.
pub struct Wanted<'a> {
    /// Who helps.
    pub name: &'a str,
    /// For how many days.
    pub days: i64,
    /// In which tanks; none: in all of them.
    pub tanks: Option<BTreeSet<TankId>>,
}

/// A link that was just made.
pub struct Made {
    /// The link.
    pub link: room_links::Model,
    /// The path of its page, without the site; told this once.
    pub path: String,
}

/// Makes a link to a room for somebody, for so many days and these tanks.
///
/// # Errors
/// `not-found` for who does not keep the room, `invalid`.
pub async fn add(
    ctx: &Ctx,
    actor: &Actor,
    account: AccountId,
    room: StreamId,
    wanted: Wanted<'_>,
) -> Result<Made> {
    let (name, days) = (wanted.name.trim(), wanted.days);
    let (look, ()) = kept(ctx, account, room, |_| ()).await?;
    let mut problem = Problem::new(&INVALID).detail("The link was not made");
    if name.is_empty() || name.chars().count() > 80 || name.chars().any(char::is_control) {
        problem = problem.at("/name", "Say who helps, in 1 to 80 letters.");
    }
    if !(1..=MOST_DAYS).contains(&days) {
        problem = problem.at("/days", "Write a number of days from 1 to 60.");
    }
    if let Some(tanks) = &wanted.tanks {
        let there = look.states();
        if tanks.is_empty() || !tanks.iter().all(|id| there.tanks.contains_key(id)) {
            problem = problem.at("/tanks", "Name tanks of this room, or leave it out for all of them.");
        }
    }
    let tanks = wanted.tanks.map(|tanks| json!(tanks).to_string());
    if !problem.faults().is_empty() {
        return Err(problem);
    }
    let secret = URL_SAFE_NO_PAD.encode(ctx.ids.bytes::<16>());
    let id = LinkId::of_bytes(ctx.ids.bytes());
    let link = write(ctx, actor, async |w| {
        if !store::is_keeper(w.tx(), room, account).await? {
            return Err(Problem::new(&NOT_FOUND));
        }
        let link = room_links::Model {
            id: id.0,
            room: room.0,
            name: name.to_owned(),
            tanks: tanks.clone(),
            hash: secret_hash(&secret),
            made_by: account.0,
            made_ms: w.now,
            until_ms: w.now + days * DAY_MS,
            ended_ms: None,
            day: 0,
            n: 0,
        };
        store::links::insert(w.tx(), link.clone()).await?;
        w.audit("rooms", format!("a helper's link {id} to room {room} made by {account}"));
        Ok(link)
    })
    .await?;
    Ok(Made { link, path: format!("/helping/{secret}") })
}

/// The links to a room.
///
/// # Errors
/// `not-found` for who does not keep the room.
pub async fn list(ctx: &Ctx, account: AccountId, room: StreamId) -> Result<Vec<room_links::Model>> {
    if !store::is_keeper(&ctx.db.conn, room, account).await? {
        return Err(Problem::new(&NOT_FOUND));
    }
    store::links::all(&ctx.db.conn, room).await
}

/// Ends a link at once. One that is over already stays so.
///
/// # Errors
/// `not-found` for who does not keep the room, and for a link that is not there.
pub async fn end(ctx: &Ctx, actor: &Actor, account: AccountId, room: StreamId, link: LinkId) -> Result<()> {
    write(ctx, actor, async |w| {
        let nothing = || Problem::new(&NOT_FOUND);
        if !store::is_keeper(w.tx(), room, account).await? {
            return Err(nothing());
        }
        let found = store::links::locked(w.tx(), link).await?.filter(|row| row.room == room.0);
        let mut row = found.ok_or_else(nothing)?;
        if row.ended_ms.is_none() {
            row.ended_ms = Some(w.now);
            store::links::save(w.tx(), row).await?;
            w.audit("rooms", format!("a helper's link {link} to room {room} ended by {account}"));
        }
        Ok(())
    })
    .await
}

/// The link that has this secret.
///
/// # Errors
/// `link-over` for one that is over and one that never was, alike; `too-many-tries` for who tries many.
pub async fn open(ctx: &Ctx, secret: &str, address: IpAddr) -> Result<room_links::Model> {
    let found = store::links::by_hash(&ctx.db.conn, &secret_hash(secret)).await?;
    let now = ctx.clock.now_ms();
    match found.filter(|link| is_good(link, now)) {
        Some(link) => Ok(link),
        None => {
            wrong_secret(ctx, address)?;
            Err(Problem::new(&LINK_OVER))
        }
    }
}

/// Writes an entry with a link. The form carries the entry's id, so that pressing twice is once.
///
/// # Errors
/// `link-over`, `link-quota`, `not-for-a-link`, and what the stream refuses.
pub async fn enter(ctx: &Ctx, link: LinkId, id: OpId, body: Body) -> Result<()> {
    write(ctx, &Actor::Server, async |w| {
        let row = store::links::locked(w.tx(), link).await?.filter(|row| is_good(row, w.now));
        let mut row = row.ok_or_else(|| Problem::new(&LINK_OVER))?;
        let day = w.now.div_euclid(DAY_MS);
        let n = if row.day == day { row.n } else { 0 };
        if n >= MOST_A_DAY {
            return Err(Problem::new(&LINK_QUOTA));
        }
        let room = StreamId(row.room);
        (row.day, row.n) = (day, n + 1);
        store::links::save(w.tx(), row).await?;
        // when it happened is now: a helper writes what they just did or saw
        let incoming = Incoming { id, at: None, body: body.clone() };
        streams::append(w, room, vec![incoming], Path::Link(link)).await?;
        Ok(())
    })
    .await
}
