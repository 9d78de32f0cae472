//! A room's states laid out for the questions that go across them: quarantine, lists, pages.

use std::collections::BTreeMap;

use super::entity::EntityState;
use crate::lineage::BroodState;
use crate::parcels::ParcelState;
use crate::quarantine::{RoomFacts, RoomView};
use crate::rooms::water::volumes::Volumes;
use crate::rooms::{StockState, SystemState, TankState};
use crate::streams::{Entity, NodeId, ParcelId, StockId, SystemId, TankId};

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
    /// Parcels.
    pub parcels: BTreeMap<ParcelId, &'a ParcelState>,
    /// The room's facts.
    pub facts: Option<&'a RoomFacts>,
}

/// Lays out states by kind.
pub fn view<'a>(states: impl IntoIterator<Item = (Entity, &'a EntityState)>) -> RoomStates<'a> {
    let mut room = RoomStates::default();
    for (entity, state) in states {
        match state {
            EntityState::Room(s) => room.facts = Some(s),
            EntityState::System(s) if s.made.is_some() => drop(room.systems.insert(SystemId(entity.id), s)),
            EntityState::Tank(s) if s.made.is_some() => drop(room.tanks.insert(TankId(entity.id), s)),
            EntityState::Stock(s) if s.made.is_some() => drop(room.stocks.insert(StockId(entity.id), s)),
            EntityState::Brood(s) if s.made.is_some() => drop(room.broods.insert(NodeId(entity.id), s)),
            EntityState::Parcel(s) => drop(room.parcels.insert(ParcelId(entity.id), s)),
            _ => {}
        }
    }
    room
}

impl<'a> RoomStates<'a> {
    /// How much water a system has, from what is written of it and of the tanks on it now.
    pub fn water_of_system(&self, id: SystemId) -> Option<Volumes> {
        let on_it = self.tanks.iter().filter(|(_, tank)| tank.system() == Some(id));
        Some(Volumes::of_system(self.systems.get(&id)?, on_it.map(|(id, tank)| (*id, *tank))))
    }

    /// How much water a tank swims in: its own, or that of its system.
    pub fn water_of_tank(&self, id: TankId) -> Option<Volumes> {
        let tank = self.tanks.get(&id)?;
        match tank.system() {
            Some(system) => self.water_of_system(system),
            None => Some(Volumes::of_tank(id, tank)),
        }
    }

    /// What the quarantine clock is computed from. `empty` stands in where no decision was made yet.
    pub fn for_quarantine(&self, empty: &'a RoomFacts) -> RoomView<'a> {
        RoomView {
            stocks: self.stocks.clone(),
            tanks: self.tanks.clone(),
            facts: self.facts.unwrap_or(empty),
        }
    }
}
