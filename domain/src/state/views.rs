//! A room's states laid out for the questions that go across them: quarantine, lists, pages.

use std::collections::BTreeMap;

use super::entity::EntityState;
use crate::lineage::{Ancestor, BroodState, Records, SpawningState};
use crate::parcels::ParcelState;
use crate::quarantine::{Evidence, RoomFacts, RoomView, SignOffs};
use crate::rooms::{StockState, SystemState, TankState, TreatmentState};
use crate::streams::{
    Entity, NodeId, OpId, ParcelId, Received, SpawningId, StockId, SystemId, TankId, TreatmentId,
};

/// The states of a room by kind; only things that something live made (parcels: that anything tells of).
#[derive(Default)]
pub struct RoomStates<'a> {
    /// Water systems.
    pub systems: BTreeMap<SystemId, &'a SystemState>,
    /// Tanks.
    pub tanks: BTreeMap<TankId, &'a TankState>,
    /// Stocks.
    pub stocks: BTreeMap<StockId, &'a StockState>,
    /// Broods.
    pub broods: BTreeMap<NodeId, &'a BroodState>,
    /// Nodes whose home is elsewhere, as those homes told of them since they came.
    pub told: BTreeMap<NodeId, &'a Ancestor>,
    /// Parcels.
    pub parcels: BTreeMap<ParcelId, &'a ParcelState>,
    /// Treatments.
    pub treatments: BTreeMap<TreatmentId, &'a TreatmentState>,
    /// Spawnings.
    pub spawnings: BTreeMap<SpawningId, &'a SpawningState>,
    /// The room's facts.
    pub facts: Option<&'a RoomFacts>,
}

/// Lays out states by kind.
pub fn view<'a>(states: impl IntoIterator<Item = (Entity, &'a EntityState)>) -> RoomStates<'a> {
    let mut room = RoomStates::default();
    // In lists first: a map that is made at once takes a fraction of the time.
    let (mut systems, mut tanks, mut stocks, mut broods) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let (mut treatments, mut parcels) = (Vec::new(), Vec::new());
    for (entity, state) in states {
        match state {
            EntityState::Room(s) => room.facts = Some(s),
            EntityState::System(s) if s.made.is_some() => systems.push((SystemId(entity.id), s)),
            EntityState::Tank(s) if s.made.is_some() => tanks.push((TankId(entity.id), s)),
            EntityState::Stock(s) if s.made.is_some() => stocks.push((StockId(entity.id), &**s)),
            EntityState::Brood(s) => {
                if let Some(told) = &s.told {
                    room.told.insert(NodeId(entity.id), told);
                }
                if s.made.is_some() {
                    broods.push((NodeId(entity.id), &**s));
                }
            }
            EntityState::Treatment(s) if s.made.is_some() => treatments.push((TreatmentId(entity.id), &**s)),
            EntityState::Spawning(s) if s.is_known() => {
                room.spawnings.insert(SpawningId(entity.id), s);
            }
            EntityState::Parcel(s) => parcels.push((ParcelId(entity.id), &**s)),
            _ => {}
        }
    }
    room.systems = systems.into_iter().collect();
    room.tanks = tanks.into_iter().collect();
    room.stocks = stocks.into_iter().collect();
    room.broods = broods.into_iter().collect();
    room.treatments = treatments.into_iter().collect();
    room.parcels = parcels.into_iter().collect();
    room
}

impl<'a> RoomStates<'a> {
    /// What the room has to tell of lineage.
    pub fn records(&self) -> Records<'_> {
        // what a giver's room vouches for goes before what only the receiver says
        let (known, claimed): (Vec<&&ParcelState>, Vec<&&ParcelState>) =
            self.parcels.values().partition(|parcel| parcel.matched.is_some() || parcel.sent.is_some());
        let copies = known.into_iter().chain(claimed).flat_map(|parcel| &parcel.ancestry).collect();
        Records { stocks: &self.stocks, broods: &self.broods, told: &self.told, copies }
    }

    /// What the quarantine clock is computed from. `empty` stands in where no decision was made yet.
    pub fn for_quarantine(
        self,
        empty: &'a RoomFacts,
        evidence: &'a [&'a Evidence],
        received: &'a dyn Fn(OpId) -> Received,
        signed: SignOffs<'a>,
    ) -> RoomView<'a> {
        RoomView {
            stocks: self.stocks,
            tanks: self.tanks,
            systems: self.systems,
            treatments: self.treatments,
            facts: self.facts.unwrap_or(empty),
            evidence,
            received,
            signed,
        }
    }
}
