//! What lies ahead of somebody: days that end, parcels on the way. For calendars and for the digest.
//!
//! Only its shape; what lies ahead comes from the areas, by way of `app.rs`. Whatever stands in it is the account's
//! own: the names of their rooms, tanks and units, and nobody else's name.

use chrono::NaiveDate;
use futures_util::future::LocalBoxFuture;
use uuid::Uuid;

use super::ctx::Ctx;
use super::errors::Result;

/// When something is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// At an instant, in seconds since 1970.
    Moment(i64),
    /// On whole days of the room's calendar: the first, and the one after the last.
    Days(NaiveDate, NaiveDate),
}

/// Something ahead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Event {
    /// The same for as long as it is the same thing, however often it moves.
    pub id: Uuid,
    /// When.
    pub when: When,
    /// The same in words, by the room's clock.
    pub when_words: String,
    /// In seconds, to sort by.
    pub at_s: i64,
    /// What, in a few words.
    pub title: String,
    /// What else is to be known.
    pub text: String,
    /// The room.
    pub place: Option<String>,
    /// Where it is told at length, on this site.
    pub href: Option<String>,
    /// Grows whenever it may have moved.
    pub version: u32,
    /// When that was, in seconds.
    pub changed_s: i64,
}

/// Asks an area what lies ahead of an account.
pub type AheadFn = for<'a> fn(&'a Ctx, Uuid) -> LocalBoxFuture<'a, Result<Vec<Event>>>;

/// The areas that know of something; set once, in `app.rs`.
#[derive(Default)]
pub struct Ahead(pub Vec<AheadFn>);

/// What lies ahead of an account, the first first.
pub async fn of(ctx: &Ctx, account: Uuid) -> Result<Vec<Event>> {
    let mut all = Vec::new();
    for area in &ctx.part::<Ahead>().0 {
        all.extend(area(ctx, account).await?);
    }
    all.sort_by_key(|event| (event.at_s, event.id));
    Ok(all)
}
