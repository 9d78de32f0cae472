//! A swap as its two sides get it.

use serde::Serialize;
use tarn_domain::parcels::{SwapSide, SwapState};
use tarn_domain::streams::{At, ParcelId};
use utoipa::ToSchema;
use uuid::Uuid;

use super::Heads;
use super::notices::StockIn;
use crate::parcels::actions::swaps::{ParcelLook, Stage, SwapLook, spread_of};
use crate::platform::html::rfc3339;

/// A swap as one of its two reads it. Of the other's rooms and stocks it says nothing
#[derive(Serialize, ToSchema)]
pub struct Swap {
    id: Uuid,
    /// `proposed`, `agreed`, `done`, `declined`, `withdrawn` or `expired`
    state: &'static str,
    /// Whether the caller proposed it
    mine: bool,
    /// What is read of the other
    with: String,
    thread: Uuid,
    /// The swap that it was proposed instead of
    #[schema(required)]
    answers: Option<Uuid>,
    /// The swap that was proposed instead of it
    #[schema(required)]
    answered_by: Option<Uuid>,
    /// What the proposer gives
    give: Vec<SwapRow>,
    #[schema(required)]
    give_words: Option<String>,
    /// What the proposer asks for
    ask: Vec<SwapRow>,
    #[schema(required)]
    ask_words: Option<String>,
    proposed_at: String,
    ends_at: String,
    /// What the caller gives, once agreed
    #[schema(required)]
    own_parcel: Option<SwapParcel>,
    /// What the other gives, once agreed
    #[schema(required)]
    other_parcel: Option<SwapParcel>,
    /// The login name that the caller's parcel is packed for; only while it is agreed and the caller gives something
    #[serde(skip_serializing_if = "Option::is_none")]
    pack_for: Option<Option<String>>,
}

/// The caller's swaps, the newest first
#[derive(Serialize, ToSchema)]
pub struct Swaps {
    swaps: Vec<Swap>,
    /// Where the list goes on
    #[schema(required)]
    next: Option<String>,
}

/// Fish that a swap speaks of
#[derive(Serialize, ToSchema)]
pub struct SwapRow {
    species: String,
    /// Colour or fin form
    #[schema(required)]
    form: Option<String>,
    /// The notice that offers them
    #[schema(required)]
    notice: Option<Uuid>,
    numbers: Heads,
    /// The stock they come out of; only where the caller gives them
    #[serde(skip_serializing_if = "Option::is_none")]
    offer: Option<Option<StockIn>>,
}

/// How a parcel of a swap stands
#[derive(Serialize, ToSchema)]
pub struct SwapParcel {
    #[schema(value_type = Uuid)]
    parcel: ParcelId,
    /// `not_packed`, `packed`, `sent`, `arrived` or `numbers_differ`
    state: &'static str,
    /// When it was handed over, or arrived
    #[schema(value_type = Option<String>, required)]
    at: Option<At>,
    sent: i64,
    alive: i64,
    dead: i64,
}

/// How a swap ended
#[derive(Serialize, ToSchema)]
pub struct SwapEnded {
    /// `declined` or `withdrawn`
    pub state: String,
}

impl Swaps {
    /// A piece of the list.
    pub fn of(swaps: Vec<SwapLook>, next: Option<String>) -> Self {
        Self { swaps: swaps.into_iter().map(Swap::of).collect(), next }
    }
}

impl Swap {
    /// As the one who looks reads it.
    pub fn of(look: SwapLook) -> Self {
        let (give, ask) = (rows(&look, false), rows(&look, true));
        let own = usize::from(look.side == SwapSide::Other);
        let packs = look.state == SwapState::Agreed && look.own_parcel().is_some();
        let (own_parcel, other_parcel) =
            (look.parcels[own].as_ref().map(parcel), look.parcels[1 - own].as_ref().map(parcel));
        let row = look.row;
        Self {
            id: row.id,
            state: look.state.as_str(),
            mine: look.side == SwapSide::Proposer,
            with: look.with,
            thread: row.thread,
            answers: row.answers,
            answered_by: row.answered_by,
            give,
            give_words: row.give_words,
            ask,
            ask_words: row.ask_words,
            proposed_at: rfc3339(row.made_ms),
            ends_at: rfc3339(row.ends_ms),
            own_parcel,
            other_parcel,
            pack_for: packs.then_some(look.with_login),
        }
    }
}

fn rows(look: &SwapLook, asked: bool) -> Vec<SwapRow> {
    let of_side = look.rows.iter().filter(|row| row.asked == asked);
    let told = of_side.map(|row| SwapRow {
        species: row.species.clone(),
        form: row.form.clone(),
        notice: row.notice,
        numbers: Heads::from(spread_of(row)),
        offer: look.is_own(row).then(|| row.room.zip(row.stock).map(|(room, stock)| StockIn { room, stock })),
    });
    told.collect()
}

fn parcel(look: &ParcelLook) -> SwapParcel {
    let (state, at) = match look.stage {
        Stage::NotPacked => ("not_packed", None),
        Stage::Packed => ("packed", None),
        Stage::OnTheWay(at) => ("sent", Some(at)),
        Stage::Arrived(at) if look.alive + look.dead == look.sent => ("arrived", Some(at)),
        Stage::Arrived(at) => ("numbers_differ", Some(at)),
    };
    SwapParcel { parcel: look.id, state, at, sent: look.sent, alive: look.alive, dead: look.dead }
}
