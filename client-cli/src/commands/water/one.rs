//! Which water is meant: a system, or a tank whose water is its own; with its readings and volumes.

use std::collections::BTreeMap;

use serde_json::{Value as Json, json};
use tarn_domain::rooms::water::meaning::{Meaning, Value, newest, of_ammonia};
use tarn_domain::rooms::water::volumes::{Missing, Told, Volumes, litres, missing_words};
use tarn_domain::rooms::words::Measure;
use tarn_domain::state::{EntityState, RoomStates, view};
use tarn_domain::streams::{Entity, EntityKind, SystemId, TankId};

use crate::failure::{Failure, Outcome};
use crate::find::find;
use crate::store::{Readings, StreamRow};
use crate::tarn::{Names, Tarn};

/// The readings of one water that are looked through.
pub const MOST: usize = 500;

/// One water.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// Tanks that share it.
    System(SystemId),
    /// A tank's own.
    Tank(TankId),
}

/// The waters of a room.
pub struct Waters {
    room: StreamRow,
    states: BTreeMap<Entity, EntityState>,
    /// What tanks and systems are called.
    pub names: Names,
}

impl Waters {
    /// Of a room.
    pub fn of(tarn: &Tarn, room: &StreamRow) -> Outcome<Self> {
        let kinds = [EntityKind::System, EntityKind::Tank];
        let states = tarn.store.states(room, &kinds)?;
        Ok(Self { room: room.clone(), states, names: tarn.names(room, &kinds)? })
    }

    fn laid_out(&self) -> RoomStates<'_> {
        view(self.states.iter().map(|(entity, state)| (*entity, state)))
    }

    /// All of them: systems, then tanks on their own water.
    pub fn all(&self) -> Vec<Which> {
        let states = self.laid_out();
        let own = |id: &&TankId| states.host_of(**id, None) == **id && states.system_of(**id, None).is_none();
        let mut all: Vec<Which> = states.systems.keys().map(|id| Which::System(*id)).collect();
        all.extend(states.tanks.keys().filter(own).map(|id| Which::Tank(*id)));
        all.sort_by_key(|which| (matches!(which, Which::Tank(_)), self.name(*which).to_lowercase()));
        all
    }

    /// The water that was typed, by a system's name or a tank's; a tank on a system has that system's water.
    pub fn find(&self, tarn: &Tarn, typed: &str) -> Outcome<Which> {
        let mut all = tarn.store.named(&self.room, EntityKind::System)?;
        all.extend(tarn.store.named(&self.room, EntityKind::Tank)?);
        let entity = find("water", typed, &all, |entity| entity.kind == EntityKind::System)?;
        Ok(match entity.kind {
            EntityKind::System => Which::System(SystemId(entity.id)),
            _ => self.of_tank(tarn, TankId(entity.id)),
        })
    }

    /// The water a tank swims in.
    pub fn of_tank(&self, tarn: &Tarn, tank: TankId) -> Which {
        let states = self.laid_out();
        let host = states.host_of(tank, None);
        let which = states.system_of(tank, None).map_or(Which::Tank(host), Which::System);
        if which != Which::Tank(tank) {
            let (tank, name) = (self.names.of(tank), self.name(which));
            tarn.out.say(&format!("{tank} shares the water of {name}: this is about all of it."));
        }
        which
    }

    /// What it is called.
    pub fn name(&self, which: Which) -> String {
        match which {
            Which::System(id) => self.names.of(id),
            Which::Tank(id) => self.names.of(id),
        }
    }

    /// How much there is.
    pub fn volumes(&self, which: Which) -> Outcome<Volumes> {
        let states = self.laid_out();
        let volumes = match which {
            Which::System(id) => states.water_of_system(id),
            Which::Tank(id) => states.water_of_tank(id),
        };
        volumes.ok_or_else(|| Failure::refused("this water is not in the room"))
    }

    /// Its readings, the newest first: those of a system, and of tanks and boxes while they had its water.
    pub fn readings(&self, tarn: &Tarn, which: Which) -> Outcome<Vec<Readings>> {
        let states = self.laid_out();
        let mut all = match which {
            Which::System(system) => tarn.store.readings(&self.room, system.into(), MOST)?,
            Which::Tank(_) => Vec::new(),
        };
        for tank in states.tanks.keys() {
            let had_it = |r: &Readings| match (which, states.system_of(*tank, Some(r.at))) {
                (Which::System(system), of) => of == Some(system),
                (Which::Tank(host), of) => of.is_none() && states.host_of(*tank, Some(r.at)) == host,
            };
            all.extend(tarn.store.readings(&self.room, (*tank).into(), MOST)?.into_iter().filter(had_it));
        }
        all.sort_by_key(|r| std::cmp::Reverse((r.at, r.id)));
        all.dedup_by_key(|r| r.id);
        all.truncate(MOST);
        Ok(all)
    }

    /// What is missing for a volume, as a sentence.
    pub fn missing(&self, missing: &[Missing]) -> String {
        missing_words(missing, |tank| self.names.of(tank))
    }

    /// A volume in words: "480 l, measured".
    pub fn told(&self, told: &Told) -> String {
        match told {
            Ok(volume) => format!("{}, {}", litres(volume.ml), volume.how.words()),
            Err(missing) => format!("not known. {}", self.missing(missing)),
        }
    }
}

/// Single values out of entries.
pub fn values(readings: &[Readings]) -> Vec<Value> {
    let of = |r: &Readings| {
        r.read.values.iter().map(|v| Value { at: r.at, what: v.what, milli: v.milli }).collect()
    };
    readings.iter().flat_map(|r| -> Vec<Value> { of(r) }).collect()
}

/// What the newest reading of ammonia means.
pub fn newest_ammonia(values: &[Value]) -> Option<Meaning> {
    newest(values, Measure::Ammonia).map(|total| of_ammonia(*total, values))
}

/// "un-ionised 0.050 mg/L NH3: may harm (FA031)", or why there is none.
pub fn ammonia_words(meaning: &Meaning) -> String {
    match &meaning.unionised {
        Ok(found) if found.may_harm() => format!("un-ionised {found} NH3: may harm (UF/IFAS FA031)"),
        Ok(found) => format!("un-ionised {found} NH3"),
        Err(why) => format!("un-ionised part not reckoned: {why}"),
    }
}

/// Which it is, for programs.
pub fn which_json(which: Which, name: &str) -> Json {
    match which {
        Which::System(id) => json!({ "system": id, "name": name }),
        Which::Tank(id) => json!({ "tank": id, "name": name }),
    }
}
