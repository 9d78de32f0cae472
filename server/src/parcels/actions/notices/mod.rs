//! Notices: put up, changed, ended, put up again, found, read. A notice ends by itself; its state is told by the clock,
//! and a round writes it down.

mod board;
mod change;
mod days;
mod end;
mod post;
mod read;

pub use board::{Board, Search, board};
pub use change::{Change, change};
pub use days::{SHIPPED_DAYS, notice_days, set_notice_days};
pub use end::{End, again, end};
pub use post::{NewNotice, post};
pub use read::{NoticeLook, Offerable, offerable, read};

use tarn_domain::parcels::{NoticeKind, NoticeSays};
use tarn_domain::rooms::Spread;
use tarn_domain::streams::{StockId, StreamId};

use super::may_leave::Where;
use crate::entities::notices::Model;
use crate::parcels::store::notices::OPEN;

/// A day.
pub const DAY_MS: i64 = 86_400_000;
/// How many notices an account puts up in a day at most.
const MOST_A_DAY: u64 = 20;
/// Which state a notice has that ended by itself.
pub const ENDED: &str = "ended";
/// And one whose fish have gone to a keeper.
pub const DONE: &str = "done";
/// And one that was taken down.
pub const TAKEN_DOWN: &str = "taken_down";

/// The state of a notice at a time.
pub fn state_at(row: &Model, now_ms: i64) -> &str {
    if row.state == OPEN && row.ends_ms <= now_ms { ENDED } else { &row.state }
}

/// Which stock a notice offers.
pub fn stock_of(row: &Model) -> Option<Where> {
    Some((StreamId(row.room?), StockId(row.stock?)))
}

/// How many it offers.
pub fn spread_of(row: &Model) -> Spread {
    Spread { males: row.males, females: row.females, unsexed: row.unsexed, eggs: row.eggs }
}

/// Its kind.
pub fn kind_of(row: &Model) -> NoticeKind {
    NoticeKind::parse(&row.kind).unwrap_or(NoticeKind::Wanted)
}

/// "for sale: Poecilia wingei".
pub fn title_of(row: &Model) -> String {
    format!("{}: {}", kind_of(row).words(), row.species)
}

/// Takes over what a notice says, and the words by which it is found. Case is folded here, since the two engines fold
/// differently.
fn take_over(row: &mut Model, says: &NoticeSays, stock: Option<Where>, all_clubs: bool) {
    let trimmed = |text: &Option<String>| text.as_deref().map(|text| text.trim().to_owned());
    says.kind.as_str().clone_into(&mut row.kind);
    says.species.trim().clone_into(&mut row.species);
    row.form = trimmed(&says.form);
    (row.room, row.stock) = (stock.map(|(room, _)| room.0), stock.map(|(_, stock)| stock.0));
    (row.males, row.females) = (says.numbers.males, says.numbers.females);
    (row.unsexed, row.eggs) = (says.numbers.unsexed, says.numbers.eggs);
    row.price_minor = says.price.as_ref().map(|price| price.minor);
    row.currency = says.price.as_ref().map(|price| price.currency.clone());
    row.exchange = trimmed(&says.exchange);
    says.area.trim().clone_into(&mut row.area);
    (row.pickup, row.posting, row.all_clubs) = (says.pickup, says.posting, all_clubs);
    row.remarks = trimmed(&says.remarks);
    let words =
        [Some(&row.species), row.form.as_ref(), row.remarks.as_ref(), row.exchange.as_ref(), Some(&row.area)];
    row.words = words.into_iter().flatten().map(|text| text.to_lowercase()).collect::<Vec<_>>().join("\n");
}
