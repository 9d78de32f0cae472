//! Folds one side of a parcel, and says what may go into one.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::ops::{PackedRow, ParcelArrived, ParcelHanded, ParcelPacked, ParcelSent};
use crate::lineage::Ancestor;
use crate::quarantine::Held;
use crate::rooms::{Finding, FindingKind, Row, common_findings};
use crate::streams::{AccountId, At, OpId, Standing, StockId, Touch};

/// What an op says of a parcel.
#[derive(Debug, Clone, Copy)]
pub enum ParcelEvent<'a> {
    /// Packed.
    Packed(&'a ParcelPacked),
    /// The bag left.
    Handed(&'a ParcelHanded),
    /// The server's decision.
    Sent(&'a ParcelSent),
    /// It came here.
    Arrived(&'a ParcelArrived),
    /// The sign-off under which it left was recalled.
    Recalled,
}

/// One side of a parcel as its room's stream tells it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ParcelState {
    /// The op that packed it here.
    pub packed: Option<OpId>,
    /// For whom, by login name.
    pub to: Option<String>,
    /// For which account, once it is sent.
    #[serde(default)]
    pub to_account: Option<AccountId>,
    /// What is in it.
    pub rows: Vec<PackedRow>,
    /// The op by which the bag left, and when.
    pub handed: Option<(OpId, At)>,
    /// The decision that it left.
    pub sent: Option<OpId>,
    /// The op by which it came here, and when.
    pub arrived: Option<(OpId, At)>,
    /// The stock that it became here.
    pub stock: Option<StockId>,
    /// How many came alive, by the receiver's count.
    #[serde(default)]
    pub alive: Vec<Row>,
    /// How many came dead.
    #[serde(default)]
    pub dead: Vec<Row>,
    /// The copy of the fish's ancestry that travels with it.
    #[serde(default)]
    pub ancestry: Vec<Ancestor>,
    /// What contradicts itself.
    pub findings: BTreeSet<Finding>,
}

/// Folds a parcel from the ops that touch it, in their order.
pub fn fold_parcel(touches: &[Touch<ParcelEvent<'_>>]) -> ParcelState {
    let mut state = ParcelState { findings: common_findings(touches), ..ParcelState::default() };
    for touch in touches.iter().filter(|t| t.standing == Standing::Live) {
        let (op, at) = (touch.written.id, touch.counts_at);
        match &touch.event {
            ParcelEvent::Packed(b) => {
                state.packed = Some(op);
                state.to.clone_from(&b.to);
                state.rows.clone_from(&b.rows);
            }
            ParcelEvent::Handed(_) => {
                state.handed.get_or_insert((op, at));
            }
            ParcelEvent::Sent(_) if state.sent.is_some() => {}
            ParcelEvent::Sent(b) => {
                state.sent = Some(op);
                state.to_account = b.to;
                state.ancestry.clone_from(&b.ancestry);
            }
            ParcelEvent::Recalled => {
                state.findings.insert(Finding { kind: FindingKind::ReceivedFromRecalled, op });
            }
            ParcelEvent::Arrived(b) => {
                if state.arrived.is_some() {
                    state.findings.insert(Finding { kind: FindingKind::MadeTwice, op });
                } else {
                    state.arrived = Some((op, at));
                    state.stock = Some(b.stock);
                    state.alive.clone_from(&b.alive);
                    state.dead.clone_from(&b.dead);
                    state.ancestry.clone_from(&b.ancestry);
                }
            }
        }
    }
    state
}

/// What is known of a stock that somebody wants to pack.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StockStanding {
    /// Which.
    pub stock: StockId,
    /// Why it may not leave, if so.
    pub held: Option<Held>,
}

/// Why fish may not go into a parcel, or a parcel may not leave.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParcelRefusal {
    /// Nothing is in it.
    #[error("a parcel has at least one fish in it")]
    Empty,
    /// In quarantine, or nobody can vouch for it yet.
    #[error("{held}")]
    Quarantine {
        /// Which stock.
        stock: StockId,
        /// Why it may not leave.
        held: Held,
    },
    /// It was packed under another id, or not at all.
    #[error("nothing was packed under this parcel")]
    NotPacked,
    /// It left already.
    #[error("this parcel has already left")]
    Gone,
}

impl ParcelRefusal {
    /// The stable code of the problem.
    pub fn code(&self) -> &'static str {
        match self {
            Self::Empty => "parcel-empty",
            Self::Quarantine { .. } => "quarantine-running",
            Self::NotPacked => "parcel-not-packed",
            Self::Gone => "parcel-gone",
        }
    }
}

/// Whether these fish may be packed. More than the records have is no refusal: it is a finding.
///
/// # Errors
/// The first thing in the way.
pub fn may_pack(rows: &[PackedRow], stocks: &[StockStanding]) -> Result<(), ParcelRefusal> {
    let wanted: i64 = rows.iter().map(|r| r.n.get()).sum();
    if wanted == 0 {
        return Err(ParcelRefusal::Empty);
    }
    for s in stocks {
        if let Some(held) = s.held.clone() {
            return Err(ParcelRefusal::Quarantine { stock: s.stock, held });
        }
    }
    Ok(())
}

/// Whether a packed parcel may leave: it is there, has not left, and its fish may still go.
///
/// # Errors
/// The first thing in the way.
pub fn may_go(parcel: &ParcelState, stocks: &[StockStanding]) -> Result<(), ParcelRefusal> {
    if parcel.packed.is_none() {
        return Err(ParcelRefusal::NotPacked);
    }
    if parcel.sent.is_some() {
        return Err(ParcelRefusal::Gone);
    }
    may_pack(&parcel.rows, stocks)
}
