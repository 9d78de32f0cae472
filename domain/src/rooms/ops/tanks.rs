//! The bodies of ops about water systems and tanks.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Millilitres, Names, some};
use crate::rooms::words::Emptied;
use crate::streams::{Links, Patch, SystemId, TankId};

bodies! {
    /// `water.system_set`: a water system, and what is known of it.
    SystemSet {
        /// Which.
        system: SystemId,
        /// Its name.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        name: Patch<String>,
        /// All the water when filled.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        gross_ml: Patch<Millilitres>,
        /// The water less sand, stones and wood.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        net_ml: Patch<Millilitres>,
        /// The sump's share.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        sump_ml: Patch<Millilitres>,
        /// What pipes, filters and other vessels outside tanks and sump hold.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        pipes_ml: Patch<Millilitres>,
        /// What sand, stones, wood and gear take up in all of it.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        displacement_ml: Patch<Millilitres>,
    }

    /// `tank.added`: a tank stands here from now on.
    TankAdded {
        /// Which.
        tank: TankId,
        /// What is written on it.
        name: String,
        /// The stand it is on.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stand: Option<String>,
        /// The shelf of the stand.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        shelf: Option<String>,
        /// The place on the shelf.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        place: Option<String>,
        /// How much it holds.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        volume_ml: Option<Millilitres>,
        /// What sand, stones, wood and gear take up in it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        displacement_ml: Option<Millilitres>,
    }

    /// `tank.described`: a tank's name, place or size changes.
    TankDescribed {
        /// Which.
        tank: TankId,
        /// What is written on it.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        name: Patch<String>,
        /// The stand it is on.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        stand: Patch<String>,
        /// The shelf of the stand.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        shelf: Patch<String>,
        /// The place on the shelf.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        place: Patch<String>,
        /// How much it holds.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        volume_ml: Patch<Millilitres>,
        /// What sand, stones, wood and gear take up in it.
        #[serde(default, skip_serializing_if = "Patch::is_keep")]
        displacement_ml: Patch<Millilitres>,
    }

    /// `tank.hung`: a box that hangs in a tank and has that tank's water from now on, or none any more.
    TankHung {
        /// The box.
        tank: TankId,
        /// The tank it hangs in; none: it is taken out and its water is its own.
        within: Option<TankId>,
    }

    /// `water.system_joined`: from now on two systems share their water (a valve was opened), or no longer do.
    SystemJoined {
        /// Which.
        system: SystemId,
        /// With which other; none: apart again.
        with: Option<SystemId>,
    }

    /// `tank.emptied`: all the water is out, and nothing in it can carry anything over. It counts for a tank that
    /// shares water with no other and holds no fish; tanks on one water are emptied together, as a system with its
    /// sump.
    TankEmptied {
        /// Which tank.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tank: Option<TankId>,
        /// Or which system, sump included.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        system: Option<SystemId>,
        /// How.
        how: Emptied,
    }

    /// `tank.plumbed`: from now on it shares this system's water, or stands alone.
    TankPlumbed {
        /// Which.
        tank: TankId,
        /// The system it joins; none: its water is its own.
        system: Option<SystemId>,
    }
}

names! {
    SystemSet: |b| Links::making([b.system.into()]).and_sets([b.system.into()]);
    TankAdded: |b| Links::making([b.tank.into()]);
    TankDescribed: |b| Links::on([b.tank.into()]);
    TankHung: |b| Links::on([b.tank.into()]).and_refers(some(&b.within));
    SystemJoined: |b| Links::on([b.system.into()]).and_refers(some(&b.with));
    TankEmptied: |b| Links::on(some(&b.tank).into_iter().chain(some(&b.system)));
    TankPlumbed: |b| Links::on([b.tank.into()]).and_refers(some(&b.system));
}
