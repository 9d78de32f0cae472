//! The readings of one water, out of the records: those of a system, and of tanks and boxes while they had its water.
//! Copied out while the room is held; decides nothing.

use std::collections::HashSet;

use tarn_domain::catalogue::Body;
use tarn_domain::rooms::TankState;
use tarn_domain::rooms::ops::{HourlyReading, WaterRead};
use tarn_domain::rooms::water::meaning::Value;
use tarn_domain::rooms::water::volumes::Volumes;
use tarn_domain::state::{Entry, Memory, RoomStates};
use tarn_domain::streams::{At, OpId, SystemId, TankId};
use uuid::Uuid;

use super::read::Traces;

/// Among how many logs the readings are looked for where a page is about one water: of the water, and of each tank.
pub const OF_ONE: (usize, usize) = (600, 100);
/// The same where it is about all of them.
pub const OF_ALL: (usize, usize) = (100, 5);

/// One water.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Which {
    /// Tanks that share it.
    System(SystemId),
    /// A tank's own.
    Tank(TankId),
}

impl Which {
    /// The id in its address.
    pub fn id(self) -> Uuid {
        match self {
            Self::System(id) => id.0,
            Self::Tank(id) => id.0,
        }
    }

    /// By the id of a system or a tank; a tank on a system has that system's water, a box that of the tank it hangs in.
    pub fn find(states: &RoomStates<'_>, id: Uuid) -> Option<Self> {
        if states.systems.contains_key(&SystemId(id)) {
            return Some(Self::System(SystemId(id)));
        }
        states.tanks.get(&TankId(id))?;
        let host = states.host_of(TankId(id), None);
        Some(states.system_of(host, None).map_or(Self::Tank(host), Self::System))
    }

    /// Every water of a room.
    pub fn all(states: &RoomStates<'_>) -> Vec<Self> {
        let own = |id: &&TankId| states.host_of(**id, None) == **id && states.system_of(**id, None).is_none();
        let systems = states.systems.keys().map(|id| Self::System(*id));
        systems.chain(states.tanks.keys().filter(own).map(|id| Self::Tank(*id))).collect()
    }

    /// Whether a tank has this water at an instant.
    fn is_of(self, states: &RoomStates<'_>, tank: TankId, at: At) -> bool {
        match (self, states.system_of(tank, Some(at))) {
            (Self::System(system), of) => of == Some(system),
            (Self::Tank(host), of) => of.is_none() && states.host_of(tank, Some(at)) == host,
        }
    }

    /// Whether a tank may ever have had this water: it was on the system, or it hung somewhere.
    fn may_be_of(self, tank: TankId, state: &TankState) -> bool {
        match self {
            Self::System(system) => {
                !state.hung.is_empty() || state.plumbing.iter().any(|p| p.system == Some(system))
            }
            Self::Tank(host) => tank != host && !state.hung.is_empty(),
        }
    }

    /// How much there is of it.
    pub fn volumes(self, states: &RoomStates<'_>) -> Option<Volumes> {
        match self {
            Self::System(id) => states.water_of_system(id),
            Self::Tank(id) => states.water_of_tank(id),
        }
    }
}

/// Logs among which its readings are, the newest first.
pub fn logs(
    memory: &Memory,
    states: &RoomStates<'_>,
    which: Which,
    most: (usize, usize),
    traces: &mut Traces,
) -> Vec<OpId> {
    let mut all: Vec<&Entry> = match which {
        Which::Tank(id) => newest(memory.logging(id.into()), most.0),
        Which::System(id) => newest(memory.logging(id.into()), most.0),
    };
    for (tank, _) in states.tanks.iter().filter(|(id, tank)| which.may_be_of(**id, tank)) {
        all.extend(newest(memory.logging((*tank).into()), most.1));
    }
    let mut seen = HashSet::new();
    all.retain(|entry| seen.insert(entry.linked.order.id));
    all.sort_unstable_by_key(|entry| std::cmp::Reverse(entry.linked.order));
    all.into_iter().map(|entry| traces.take(memory, entry)).collect()
}

/// The newest live entries.
fn newest<'a>(entries: impl Iterator<Item = &'a Entry>, most: usize) -> Vec<&'a Entry> {
    let mut all: Vec<&Entry> = entries.filter(|entry| entry.linked.live).collect();
    all.sort_unstable_by_key(|entry| std::cmp::Reverse(entry.linked.order));
    all.truncate(most);
    all
}

/// An entry of readings.
#[derive(Debug, Clone)]
pub struct Readings {
    /// The entry.
    pub op: OpId,
    /// When it was so.
    pub at: At,
    /// What was read, and of what; of a probe the means.
    pub read: WaterRead,
    /// What a probe's readings were between.
    pub hourly: Vec<HourlyReading>,
}

/// The readings among logs that were fetched, the newest first.
pub fn readings(states: &RoomStates<'_>, which: Which, traces: &Traces, logs: &[OpId]) -> Vec<Readings> {
    let of_this = |at: At, read: &WaterRead| match (read.system, read.tank) {
        (Some(system), _) => which == Which::System(system),
        (None, Some(tank)) => which.is_of(states, tank, at),
        (None, None) => false,
    };
    let all = logs.iter().filter_map(|op| traces.get(*op)).filter_map(|trace| {
        let body = trace.body.as_deref()?;
        let read = body.water().filter(|read| of_this(trace.at, read))?.into_owned();
        let hourly = if let Body::WaterLogged(logged) = body { logged.values.clone() } else { Vec::new() };
        Some(Readings { op: trace.op, at: trace.at, read, hourly })
    });
    all.collect()
}

/// Single values out of entries.
pub fn values(readings: &[Readings]) -> Vec<Value> {
    let all = readings.iter().flat_map(|r| r.read.values.iter().map(move |v| (r.at, v)));
    all.map(|(at, v)| Value { at, what: v.what, milli: v.milli }).collect()
}
