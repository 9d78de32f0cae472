//! Putting up a notice.

use tarn_domain::parcels::{NoticeKind, NoticeSays};
use uuid::Uuid;

use super::{DAY_MS, MOST_A_DAY, days, take_over};
use crate::accounts::actions::age_of;
use crate::accounts::refusals::BY_GUARDIAN;
use crate::entities::notices::Model;
use crate::parcels::actions::may_leave::{Rooms, Where};
use crate::parcels::refusals::invalid;
use crate::parcels::store::notices as store;
use crate::platform::auth::SignedIn;
use crate::platform::errors::{CONFLICT, NOT_FOUND, too_many_today};
use crate::platform::{Ctx, Problem, Result, Write, write};
use tarn_domain::streams::AccountId;

/// A notice to put up.
pub struct NewNotice {
    /// Its id, made by the caller: the same again is the same notice.
    pub id: Uuid,
    /// On whose board.
    pub club: Uuid,
    /// What it says.
    pub says: NoticeSays,
    /// The stock it offers.
    pub stock: Option<Where>,
    /// Whether members of the other clubs here see it too.
    pub all_clubs: bool,
}

/// Puts it up.
///
/// # Errors
/// `invalid`, `by-guardian`, `not-found` (club or stock), `quarantine-running`, `too-many-today`, `conflict`.
pub async fn post(ctx: &Ctx, who: &SignedIn, new: NewNotice) -> Result<Model> {
    let account = AccountId(who.account);
    if !store::is_member(&ctx.db.conn, new.club, account).await? {
        return Err(Problem::new(&NOT_FOUND).detail("You are in no club with this id."));
    }
    sound(ctx, account, &new.says, new.stock).await?;
    write(ctx, &who.actor(), async |w| {
        if let Some(there) = store::lock(w.tx(), new.id).await? {
            return if there.author == account.0 { Ok(there) } else { Err(Problem::new(&CONFLICT)) };
        }
        not_too_many(w, account).await?;
        let mut row = Model {
            id: new.id,
            author: account.0,
            club: new.club,
            kind: String::new(),
            species: String::new(),
            form: None,
            room: None,
            stock: None,
            males: 0,
            females: 0,
            unsexed: 0,
            eggs: 0,
            price_minor: None,
            currency: None,
            exchange: None,
            area: String::new(),
            pickup: false,
            posting: false,
            remarks: None,
            all_clubs: false,
            state: store::OPEN.into(),
            why: None,
            words: String::new(),
            version: 1,
            made_ms: w.now,
            changed_ms: w.now,
            ends_ms: ends_ms(w, new.club).await?,
        };
        take_over(&mut row, &new.says, new.stock, new.all_clubs);
        store::insert(w.tx(), row.clone()).await?;
        w.audit_of(
            row.club,
            "parcels",
            format!("notice {} put up on the board of club {}", row.id, row.club),
        );
        Ok(row)
    })
    .await
}

/// Whether a notice may say this of this stock, now.
pub(super) async fn sound(
    ctx: &Ctx,
    account: AccountId,
    says: &NoticeSays,
    stock: Option<Where>,
) -> Result<()> {
    let faults = says.faults(stock.is_some());
    if !faults.is_empty() {
        return Err(invalid(faults));
    }
    let names_money = says.price.is_some() || says.kind == NoticeKind::ForSale;
    if names_money && !age_of(ctx, account.0).await?.may_deal_in_money() {
        let why = "Somebody under age sells and buys nothing. Offer it for a swap or for nothing, or ask your guardian.";
        return Err(Problem::new(&BY_GUARDIAN).detail(why).at("/price", why));
    }
    if let Some(at) = stock
        && let Some(not_now) = Rooms::new(ctx).not_now(account, at).await?
    {
        return Err(not_now.problem("/stock"));
    }
    Ok(())
}

pub(super) async fn not_too_many(w: &Write, account: AccountId) -> Result<()> {
    if store::put_up_since(w.tx(), account, w.now - DAY_MS).await? >= MOST_A_DAY {
        return Err(too_many_today("You have put up 20 notices in 24 hours"));
    }
    Ok(())
}

/// When a notice that is put up now ends, by the club's setting.
pub(super) async fn ends_ms(w: &Write, club: Uuid) -> Result<i64> {
    Ok(w.now + i64::from(days::of(w.tx(), club).await?) * DAY_MS)
}
