//! Folds one side of a parcel, and says what may go into one.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::ops::{PackedRow, ParcelArrived, ParcelHanded, ParcelPacked, ParcelSent};
use crate::rooms::{Finding, FindingKind, common_findings};
use crate::streams::{At, OpId, Standing, StockId, Touch};

/// What an op says of a parcel.
#[derive(Debug, Clone)]
pub enum ParcelEvent {
    /// Packed.
    Packed(ParcelPacked),
    /// The bag left.
    Handed(ParcelHanded),
    /// The server's decision.
    Sent(ParcelSent),
    /// It came here.
    Arrived(ParcelArrived),
}

/// One side of a parcel as its room's stream tells it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ParcelState {
    /// The op that packed it here.
    pub packed: Option<OpId>,
    /// For whom, by login name.
    pub to: Option<String>,
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
    /// What contradicts itself.
    pub findings: BTreeSet<Finding>,
}

/// Folds a parcel from the ops that touch it, in their order.
pub fn fold_parcel(touches: &[Touch<ParcelEvent>]) -> ParcelState {
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
            ParcelEvent::Sent(_) => {
                state.sent.get_or_insert(op);
            }
            ParcelEvent::Arrived(b) => {
                if state.arrived.is_some() {
                    state.findings.insert(Finding { kind: FindingKind::MadeTwice, op });
                } else {
                    state.arrived = Some((op, at));
                    state.stock = Some(b.stock);
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
    /// If it is in quarantine: until when at the earliest (none: no day can be told), or recalled, or in the bag.
    pub held_until: Option<Option<At>>,
}

/// Why fish may not go into a parcel, or a parcel may not leave.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParcelRefusal {
    /// Nothing is in it.
    #[error("a parcel has at least one fish in it")]
    Empty,
    /// In quarantine.
    #[error("{}", held(*until))]
    Quarantine {
        /// Which stock.
        stock: StockId,
        /// The day, if one can be told.
        until: Option<At>,
    },
    /// It was packed under another id, or not at all.
    #[error("nothing was packed under this parcel")]
    NotPacked,
    /// It left already.
    #[error("this parcel has already left")]
    Gone,
}

fn held(until: Option<At>) -> String {
    match until {
        Some(at) => format!("this stock is in quarantine, until {at} at the earliest and until a health steward has cleared it"),
        None => "this stock is in quarantine, and no day can be told yet; the steward's page says what is in the way".into(),
    }
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
        if let Some(until) = s.held_until {
            return Err(ParcelRefusal::Quarantine { stock: s.stock, until });
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
