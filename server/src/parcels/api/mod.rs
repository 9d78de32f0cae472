//! Parcels over JSON. What is done with them is ops; here they are read. Notices, threads and swaps, which are plain
//! rows, stand in files of their own.

pub mod boards;
pub mod noticed;
pub mod notices;
pub mod parcels;
pub mod swapped;
pub mod swaps;
pub mod threads;

use serde::{Deserialize, Serialize};
use tarn_domain::rooms::Spread;
use utoipa::ToSchema;

use crate::accounts::actions::place_of;
use crate::platform::Result;
use crate::platform::errors::{MALFORMED, Problem};
use crate::platform::messages::Place;

/// How many fish, without lineage
#[derive(Clone, Copy, Default, Deserialize, Serialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
#[schema(example = json!({"males": 2, "females": 3, "unsexed": 0, "eggs": 0}))]
pub struct Heads {
    males: i64,
    females: i64,
    unsexed: i64,
    eggs: i64,
}

impl From<Heads> for Spread {
    fn from(heads: Heads) -> Self {
        Self { males: heads.males, females: heads.females, unsexed: heads.unsexed, eggs: heads.eggs }
    }
}

impl From<Spread> for Heads {
    fn from(spread: Spread) -> Self {
        Self { males: spread.males, females: spread.females, unsexed: spread.unsexed, eggs: spread.eggs }
    }
}

/// Where a list goes on.
fn place(after: Option<&str>, name: &str) -> Result<Option<Place>> {
    let wrong = || {
        Problem::new(&MALFORMED)
            .detail(format!("{name} is not what an answer said"))
            .at(&format!("/{name}"), "No such place.")
    };
    after.map(|cursor| place_of(cursor).ok_or_else(wrong)).transpose()
}

/// How many of a list at once.
fn most(limit: u64) -> usize {
    usize::try_from(limit.clamp(1, 200)).unwrap_or(200)
}

fn fifty() -> u64 {
    50
}

/// A text that may be left out or empty.
fn said(text: Option<String>) -> Option<String> {
    text.filter(|text| !text.trim().is_empty())
}
