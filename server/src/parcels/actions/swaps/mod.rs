//! Swaps: proposed, agreed or not, and done when what was agreed has arrived. How fish travel is the parcels' own; here
//! only their ids are allotted, and what their rows tell is joined.

mod agree;
mod answer;
mod parcels;
mod propose;
mod read;

pub use agree::agree;
pub use answer::{decline, withdraw};
pub use parcels::{ParcelLook, Stage};
pub(in crate::parcels) use parcels::{has_left, is_done};
pub use propose::{Asked, Given, NewSwap, To, propose};
pub use read::{SwapLook, Swaps, read, swaps};

use tarn_domain::parcels::{MOST_NAME, MOST_TEXT, SwapSide, SwapState, is_line, is_prose, numbers_fault};
use tarn_domain::rooms::Spread;
use tarn_domain::streams::{AccountId, At};
use uuid::Uuid;

use crate::entities::{swap_rows, swaps::Model};
use crate::parcels::refusals::invalid;
use crate::platform::errors::NOT_FOUND;
use crate::platform::messages::{self, Line};
use crate::platform::{Problem, Result, Write};
use crate::rooms;

/// Which side somebody is on.
///
/// # Errors
/// `not-found` for who is on none.
pub fn side(row: &Model, account: AccountId) -> Result<SwapSide> {
    match account.0 {
        id if id == row.proposer => Ok(SwapSide::Proposer),
        id if id == row.other => Ok(SwapSide::Other),
        _ => Err(Problem::new(&NOT_FOUND).detail("There is no swap with this id, or none of yours.")),
    }
}

/// The account opposite.
pub fn opposite(row: &Model, side: SwapSide) -> AccountId {
    AccountId(if side == SwapSide::Proposer { row.other } else { row.proposer })
}

/// The state at a time.
pub fn state_at(row: &Model, now_ms: i64) -> SwapState {
    let stored = SwapState::parse(&row.state).unwrap_or(SwapState::Expired);
    stored.at(At::from_seconds(row.ends_ms.div_euclid(1000)), At::from_seconds(now_ms.div_euclid(1000)))
}

/// Numbers of a row.
pub fn spread_of(row: &swap_rows::Model) -> Spread {
    Spread { males: row.males, females: row.females, unsexed: row.unsexed, eggs: row.eggs }
}

/// Tells one side of a step, once; the words begin with what others read of the other side.
pub(in crate::parcels) async fn tell(
    w: &Write,
    swap: Uuid,
    to: AccountId,
    step: &str,
    words: &str,
) -> Result<()> {
    let fact = format!("parcels:swap:{swap}:{step}");
    let href = Some(format!("/swaps/{swap}"));
    messages::tell(w, Line { account: to.0, fact: &fact, text: words, href }).await
}

/// What others read of an account.
pub(in crate::parcels) async fn name_of(w: &Write, account: AccountId) -> Result<String> {
    Ok(rooms::store::people(w.tx(), [account]).await?.remove(&account).unwrap_or_else(|| "Somebody".into()))
}

/// More fish of different kinds than one parcel holds.
const MOST_ROWS: usize = 20;

fn check_words(field: &'static str, words: Option<&str>) -> Result<()> {
    match words {
        Some(words) if !is_prose(words, MOST_TEXT) => {
            Err(invalid(vec![(field, "At most 2,000 signs.".into())]))
        }
        _ => Ok(()),
    }
}

fn check_numbers(field: &'static str, numbers: &Spread) -> Result<()> {
    numbers_fault(numbers, false).map_or(Ok(()), |why| Err(invalid(vec![(field, why)])))
}

fn check_name(field: &'static str, name: Option<&str>) -> Result<()> {
    match name {
        Some(name) if !is_line(name, MOST_NAME) => {
            Err(invalid(vec![(field, "Species and form are named in 1 to 120 signs.".into())]))
        }
        _ => Ok(()),
    }
}
