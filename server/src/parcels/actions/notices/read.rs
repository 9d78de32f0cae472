//! One notice, as the one who looks may see it; and what somebody could offer.

use tarn_domain::clubs::Role;
use tarn_domain::parcels::Price;
use tarn_domain::streams::{AccountId, StockId, StreamId};
use uuid::Uuid;

use super::{state_at, stock_of};
use crate::entities::notices::Model;
use crate::parcels::actions::may_leave::{Known, NotNow, Rooms};
use crate::parcels::store::notices::{self as store, OPEN};
use crate::platform::errors::NOT_FOUND;
use crate::platform::{Ctx, Problem, Result};
use crate::{clubs, rooms};

/// A notice and what is known about it at the moment of looking.
pub struct NoticeLook {
    /// Its row.
    pub row: Model,
    /// `open`, `ended`, `done`, `taken_down`.
    pub state: String,
    /// Whether the one who looks put it up.
    pub mine: bool,
    /// Why nobody else sees it, though it stands.
    pub not_now: Option<NotNow>,
    /// What the club is called.
    pub club: String,
    /// What others read of its author.
    pub author: String,
}

impl NoticeLook {
    /// Its price.
    pub fn price(&self) -> Option<Price> {
        Price::of(self.row.price_minor?, self.row.currency.as_deref()?).ok()
    }

    /// Whether it stands, for everybody who may read it.
    pub fn stands(&self) -> bool {
        self.state == OPEN && self.not_now.is_none()
    }
}

/// Puts together what is known of a row; the names are the caller's to look up.
pub(super) async fn look(
    rooms: &mut Rooms<'_>,
    account: AccountId,
    row: Model,
    (club, author): (String, String),
    now_ms: i64,
) -> Result<NoticeLook> {
    let not_now = match stock_of(&row) {
        Some(at) => rooms.not_now(AccountId(row.author), at).await?,
        None => None,
    };
    let state = state_at(&row, now_ms).to_owned();
    Ok(NoticeLook { mine: row.author == account.0, state, not_now, club, author, row })
}

/// One notice.
///
/// # Errors
/// `not-found` for who may not read it: it does not stand and is another's, or it is on the board of a club that is
/// not theirs and not for all.
pub async fn read(ctx: &Ctx, account: AccountId, id: Uuid) -> Result<NoticeLook> {
    let conn = &ctx.db.conn;
    let nothing =
        || Problem::new(&NOT_FOUND).detail("There is no notice with this id, or none that you may read.");
    let row = store::notice(conn, id).await?.ok_or_else(nothing)?;
    let clubs = store::clubs_of(conn, account).await?;
    let here = clubs.contains(&row.club) || (row.all_clubs && !clubs.is_empty());
    let author = AccountId(row.author);
    if author != account && (!here || !store::is_member(conn, row.club, author).await?) {
        return Err(nothing());
    }
    let club = store::club_names(conn, [row.club]).await?.remove(&row.club).unwrap_or_default();
    let name = rooms::store::people(conn, [author]).await?.remove(&author).unwrap_or_default();
    let look = look(&mut Rooms::new(ctx), account, row, (club, name), ctx.clock.now_ms()).await?;
    if look.mine || look.stands() { Ok(look) } else { Err(nothing()) }
}

impl NoticeLook {
    /// Whether the one who looks is a secretary of its club.
    pub async fn is_secretary(&self, ctx: &Ctx, account: AccountId) -> Result<bool> {
        clubs::store::has_role(&ctx.db.conn, self.row.club, account.0, Role::Secretary).await
    }
}

/// A stock that somebody could offer: the room, what it is called, and what is known of it.
pub type Offerable = (StreamId, String, StockId, Known);

/// The stocks with fish in an account's rooms that may leave now, by room and name.
pub async fn offerable(ctx: &Ctx, account: AccountId) -> Result<Vec<Offerable>> {
    let mut all = Vec::new();
    let mut read = Rooms::new(ctx);
    for room in rooms::store::rooms_of(&ctx.db.conn, account).await? {
        let id = StreamId(room.stream);
        let stocks = read.stocks(id).await?.iter();
        let free = stocks.filter(|(_, known)| known.held.is_none() && known.spread != Default::default());
        let mut free: Vec<Offerable> =
            free.map(|(stock, known)| (id, room.name.clone(), *stock, known.clone())).collect();
        free.sort_by_key(|(_, _, stock, known)| (known.species.clone(), known.name.clone(), *stock));
        all.extend(free);
    }
    Ok(all)
}
