//! A notice as its readers get it.

use serde::Serialize;
use tarn_domain::parcels::cautions;
use utoipa::ToSchema;
use uuid::Uuid;

use super::Heads;
use super::notices::{Money, StockIn};
use super::threads::ThreadBegun;
use crate::parcels::actions::may_leave::NotNow;
use crate::parcels::actions::notices::{NoticeLook, kind_of, spread_of};
use crate::platform::html::rfc3339;

/// A notice
#[derive(Serialize, ToSchema)]
pub struct Notice {
    id: Uuid,
    /// `for_sale`, `to_swap`, `wanted`, `free`
    kind: String,
    species: String,
    /// Colour or fin form
    #[schema(required)]
    form: Option<String>,
    numbers: Heads,
    #[schema(required)]
    price: Option<Money>,
    /// What is taken in exchange
    #[schema(required)]
    exchange: Option<String>,
    /// A town or region
    area: String,
    pickup: bool,
    posting: bool,
    #[schema(required)]
    remarks: Option<String>,
    /// On whose board
    club: Uuid,
    club_name: String,
    /// Whether members of the other clubs on this server see it too
    all_clubs: bool,
    /// What others read of who put it up
    author: String,
    mine: bool,
    /// `open`, `ended`, `done`, `taken_down`
    state: String,
    put_up_at: String,
    ends_at: String,
    /// What to think of before fish change hands
    cautions: Vec<&'static str>,
    /// The stock that is offered; only for its author
    #[serde(skip_serializing_if = "Option::is_none")]
    offer: Option<Option<StockIn>>,
    /// Why an officer took it down; only for its author
    #[serde(skip_serializing_if = "Option::is_none")]
    why: Option<Option<String>>,
    /// Why nobody else sees it, though it stands; only for its author
    #[serde(skip_serializing_if = "Option::is_none")]
    not_shown: Option<Option<String>>,
    /// The caller's threads about it; only where one notice is read
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    threads: Option<Vec<ThreadBegun>>,
}

/// Notices, those put up last first
#[derive(Serialize, ToSchema)]
pub struct Notices {
    notices: Vec<Notice>,
    /// Where the list goes on
    #[schema(required)]
    next: Option<String>,
}

impl Notices {
    /// A piece of the board.
    pub fn of(notices: Vec<NoticeLook>, next: Option<String>) -> Self {
        Self { notices: notices.into_iter().map(Notice::of).collect(), next }
    }
}

/// How a notice ended
#[derive(Serialize, ToSchema)]
pub struct NoticeEnded {
    /// `done` or `taken_down`
    pub state: String,
}

impl Notice {
    /// What stands on its page. The stock is its author's to know.
    pub fn of(look: NoticeLook) -> Self {
        let price = look.price().map(|price| Money { minor: price.minor, currency: price.currency });
        let row = look.row;
        let offer = row.room.zip(row.stock).map(|(room, stock)| StockIn { room, stock });
        Self {
            numbers: spread_of(&row).into(),
            cautions: cautions(kind_of(&row), row.posting),
            id: row.id,
            kind: row.kind,
            species: row.species,
            form: row.form,
            price,
            exchange: row.exchange,
            area: row.area,
            pickup: row.pickup,
            posting: row.posting,
            remarks: row.remarks,
            club: row.club,
            club_name: look.club,
            all_clubs: row.all_clubs,
            author: look.author,
            mine: look.mine,
            state: look.state,
            put_up_at: rfc3339(row.made_ms),
            ends_at: rfc3339(row.ends_ms),
            offer: look.mine.then_some(offer),
            why: look.mine.then_some(row.why),
            not_shown: look.mine.then(|| look.not_now.as_ref().map(NotNow::sentence)),
            threads: None,
        }
    }

    /// The same with threads about it.
    pub fn with(self, threads: Vec<ThreadBegun>) -> Self {
        Self { threads: Some(threads), ..self }
    }
}
