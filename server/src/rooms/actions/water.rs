//! The readings of one water, out of the records: those of a system, and of its tanks while they were on it. Copied out
//! while the room is held; decides nothing.

use std::collections::HashSet;

use tarn_domain::catalogue::Body;
use tarn_domain::rooms::ops::WaterRead;
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

    /// By the id of a system or a tank; a tank on a system has that system's water.
    pub fn find(states: &RoomStates<'_>, id: Uuid) -> Option<Self> {
        if states.systems.contains_key(&SystemId(id)) {
            return Some(Self::System(SystemId(id)));
        }
        let tank = states.tanks.get(&TankId(id))?;
        Some(tank.system().map_or(Self::Tank(TankId(id)), Self::System))
    }

    /// Every water of a room.
    pub fn all(states: &RoomStates<'_>) -> Vec<Self> {
        let alone = states.tanks.iter().filter(|(_, tank)| tank.system().is_none());
        let systems = states.systems.keys().map(|id| Self::System(*id));
        systems.chain(alone.map(|(id, _)| Self::Tank(*id))).collect()
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
    if let Which::System(system) = which {
        let ever =
            |plumbing: &[tarn_domain::rooms::Plumbing]| plumbing.iter().any(|p| p.system == Some(system));
        for (tank, _) in states.tanks.iter().filter(|(_, tank)| ever(&tank.plumbing)) {
            all.extend(newest(memory.logging((*tank).into()), most.1));
        }
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
    /// What was read, and of what.
    pub read: WaterRead,
}

/// The readings among logs that were fetched, the newest first.
pub fn readings(states: &RoomStates<'_>, which: Which, traces: &Traces, logs: &[OpId]) -> Vec<Readings> {
    let of_this = |at: At, read: &WaterRead| match which {
        Which::System(system) => match (read.system, read.tank) {
            (Some(read), _) => read == system,
            (None, Some(tank)) => states.tanks.get(&tank).is_some_and(|t| t.system_at(at) == Some(system)),
            (None, None) => false,
        },
        Which::Tank(id) => states.tanks.get(&id).is_some_and(|t| t.system_at(at).is_none()),
    };
    let all =
        logs.iter().filter_map(|op| traces.get(*op)).filter_map(|trace| match trace.body.as_deref()? {
            Body::WaterRead(read) if of_this(trace.at, read) => {
                Some(Readings { op: trace.op, at: trace.at, read: read.clone() })
            }
            _ => None,
        });
    all.collect()
}

/// Single values out of entries.
pub fn values(readings: &[Readings]) -> Vec<Value> {
    let all = readings.iter().flat_map(|r| r.read.values.iter().map(move |v| (r.at, v)));
    all.map(|(at, v)| Value { at, what: v.what, milli: v.milli }).collect()
}
