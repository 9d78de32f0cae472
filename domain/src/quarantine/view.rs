//! What the clock is computed from: a room's states, the logs that count as evidence, and when each entry was
//! received. Computes nothing.

use std::collections::{BTreeMap, BTreeSet};

use super::facts::RoomFacts;
use crate::rooms::{StockState, SystemState, TankState, TreatmentState};
use crate::streams::{At, OpId, Received, StockId, SystemId, TankId, TreatmentId};

/// A log that the clock reads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Evidence {
    /// Something looked wrong.
    Sign {
        /// The entry.
        op: OpId,
        /// When it was last seen.
        at: At,
        /// With which stock.
        stock: Option<StockId>,
        /// Or in which tank.
        tank: Option<TankId>,
    },
    /// The fish in these tanks were looked at.
    Look {
        /// When.
        at: At,
        /// Which tanks.
        tanks: Vec<TankId>,
    },
    /// The keeper began the days again.
    Restart {
        /// The entry.
        op: OpId,
        /// From when.
        at: At,
        /// Any stock of the unit.
        stock: StockId,
    },
}

/// Which sign-offs count.
#[derive(Debug, Clone, Copy)]
pub enum SignOffs<'a> {
    /// Each is held against the records as they are now.
    Verify,
    /// All but these, which were recalled.
    Known(&'a BTreeSet<OpId>),
}

/// A room as the clock reads it.
pub struct RoomView<'a> {
    /// The stocks.
    pub stocks: BTreeMap<StockId, &'a StockState>,
    /// The tanks.
    pub tanks: BTreeMap<TankId, &'a TankState>,
    /// The water systems.
    pub systems: BTreeMap<SystemId, &'a SystemState>,
    /// The treatments.
    pub treatments: BTreeMap<TreatmentId, &'a TreatmentState>,
    /// Home clubs, rules, sign-offs and waivers.
    pub facts: &'a RoomFacts,
    /// Signs, looks and restarts that count, in any order.
    pub evidence: &'a [&'a Evidence],
    /// When an entry was received; now for one that was not accepted yet.
    pub received: &'a dyn Fn(OpId) -> Received,
    /// Which sign-offs count.
    pub signed: SignOffs<'a>,
}
