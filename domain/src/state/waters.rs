//! Which water a tank has in the end, a box by way of the tank it hangs in, and how much there is of a system's water
//! with all that are joined to it. Only for what is shown: who meets whom is the quarantine's.

use std::collections::BTreeSet;

use super::views::RoomStates;
use crate::rooms::Sharing;
use crate::rooms::water::volumes::Volumes;
use crate::streams::{At, SystemId, TankId};

/// With whose water something is at an instant, or after all that is recorded.
fn with_at<Id: Copy>(all: &[Sharing<Id>], at: Option<At>) -> Option<Id> {
    let holds = |s: &&Sharing<Id>| at.is_none_or(|at| s.from <= at && s.until.is_none_or(|end| at < end));
    all.iter().rev().find(holds).and_then(|s| s.with)
}

impl RoomStates<'_> {
    /// The tank whose water a tank has: itself, or what it hangs in as a box.
    pub fn host_of(&self, tank: TankId, at: Option<At>) -> TankId {
        let (mut host, mut seen) = (tank, BTreeSet::from([tank]));
        while let Some(next) = self.tanks.get(&host).and_then(|t| with_at(&t.hung, at)) {
            // boxes that hang in each other are a contradiction, and no reason to go round for ever
            if !seen.insert(next) {
                break;
            }
            host = next;
        }
        host
    }

    /// The system that a tank's water is of, at an instant or after all that is recorded.
    pub fn system_of(&self, tank: TankId, at: Option<At>) -> Option<SystemId> {
        let host = self.tanks.get(&self.host_of(tank, at))?;
        at.map_or_else(|| host.system(), |at| host.system_at(at))
    }

    /// The systems that share a system's water now, itself among them.
    pub fn joined_to(&self, system: SystemId) -> BTreeSet<SystemId> {
        let pairs: Vec<(SystemId, SystemId)> =
            self.systems.iter().filter_map(|(id, s)| Some((*id, with_at(&s.joined, None)?))).collect();
        let mut all = BTreeSet::from([system]);
        loop {
            let before = all.len();
            for (one, other) in &pairs {
                if all.contains(one) || all.contains(other) {
                    all.extend([*one, *other]);
                }
            }
            if all.len() == before {
                return all;
            }
        }
    }

    /// How much water a system has, with those that are joined to it. A box that hangs in a tank is inside its volume.
    pub fn water_of_system(&self, id: SystemId) -> Option<Volumes> {
        let of_one = |id: &SystemId| {
            let boxes = |tank: &TankId| self.host_of(*tank, None) != *tank;
            let on_it = self.tanks.iter().filter(|(t, tank)| tank.system() == Some(*id) && !boxes(t));
            Some(Volumes::of_system(self.systems.get(id)?, on_it.map(|(id, tank)| (*id, *tank))))
        };
        let joined = self.joined_to(id);
        if joined.len() == 1 {
            return of_one(&id);
        }
        let all: Vec<Volumes> = joined.iter().filter_map(of_one).collect();
        Some(Volumes::together(&all))
    }

    /// How much water a tank swims in: its own, that of the tank it hangs in, or that of its system.
    pub fn water_of_tank(&self, id: TankId) -> Option<Volumes> {
        let host = self.host_of(id, None);
        match self.system_of(host, None) {
            Some(system) => self.water_of_system(system),
            None => Some(Volumes::of_tank(host, self.tanks.get(&host)?)),
        }
    }
}
