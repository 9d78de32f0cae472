//! What an op has to do with the things it names: which it refers to, makes and touches.
//! Must not know what any of them means.

use std::fmt;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{NodeId, OpId, ParcelId, SpawningId, StockId, SystemId, TankId, TreatmentId};

/// The kinds of things that ops speak of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum EntityKind {
    /// The room as a whole: its club, its rules, its sign-offs.
    Room,
    /// A water system.
    System,
    /// A tank.
    Tank,
    /// A stock.
    Stock,
    /// A brood.
    Brood,
    /// Fish on their way.
    Parcel,
    /// A treatment of a water.
    Treatment,
    /// A spawning: the steps by which a brood came about.
    Spawning,
}

impl EntityKind {
    /// Every kind, in the order in which states are written.
    pub const ALL: [Self; 8] = [
        Self::Room,
        Self::System,
        Self::Tank,
        Self::Stock,
        Self::Brood,
        Self::Parcel,
        Self::Treatment,
        Self::Spawning,
    ];

    /// The word for it in paths, tables and state text.
    pub fn word(self) -> &'static str {
        match self {
            Self::Room => "room",
            Self::System => "system",
            Self::Tank => "tank",
            Self::Stock => "stock",
            Self::Brood => "brood",
            Self::Parcel => "parcel",
            Self::Treatment => "treatment",
            Self::Spawning => "spawning",
        }
    }

    /// The kind of a word.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

/// One thing that ops speak of.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Entity {
    /// What it is.
    pub kind: EntityKind,
    /// Which one.
    pub id: Uuid,
}

impl fmt::Debug for Entity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.kind.word(), self.id)
    }
}

impl Entity {
    /// The room as a whole, in its own stream.
    pub const ROOM: Self = Self { kind: EntityKind::Room, id: Uuid::nil() };
}

macro_rules! entities {
    ($($id:ty => $kind:ident),* $(,)?) => {$(
        impl From<$id> for Entity {
            fn from(id: $id) -> Self {
                Self { kind: EntityKind::$kind, id: id.0 }
            }
        }
    )*};
}

entities! { SystemId => System, TankId => Tank, StockId => Stock, NodeId => Brood, ParcelId => Parcel, TreatmentId => Treatment,
SpawningId => Spawning }

/// How an op hangs together with the rest of its stream.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Links {
    /// What must have been made by a live op for this one to count.
    pub refers: Vec<Entity>,
    /// What this op makes: each counts once, by the first live op that makes it, unless the op also changes it
    /// (a system that is set again is no second system).
    pub makes: Vec<Entity>,
    /// What this op changes besides what it makes. Not all of it need have been made here: the room itself, a parcel
    /// that is told of here before its giver's record comes in, and a spawning, of which any step may be the first
    /// that is known, have no maker.
    pub changes: Vec<Entity>,
    /// The op that this one takes back.
    pub withdraws: Option<OpId>,
    /// A log: kept and shown, but in no state.
    pub log: bool,
    /// A log that the quarantine clock reads, so that its body is kept at hand.
    pub evidence: bool,
}

impl Links {
    /// A log entry about these things.
    pub fn log(about: impl IntoIterator<Item = Entity>) -> Self {
        Self { refers: about.into_iter().collect(), log: true, ..Self::default() }
    }

    /// A log entry about these things that the quarantine clock reads.
    pub fn evidence(about: impl IntoIterator<Item = Entity>) -> Self {
        Self { evidence: true, ..Self::log(about) }
    }

    /// An op that makes these things.
    pub fn making(makes: impl IntoIterator<Item = Entity>) -> Self {
        Self { makes: makes.into_iter().collect(), ..Self::default() }
    }

    /// An op that changes these things, all of which must exist.
    pub fn on(changed: impl IntoIterator<Item = Entity>) -> Self {
        Self::default().and_on(changed)
    }

    /// … and changes these things, all of which must exist.
    pub fn and_on(mut self, changed: impl IntoIterator<Item = Entity>) -> Self {
        for entity in changed {
            self.refers.push(entity);
            self.changes.push(entity);
        }
        self
    }

    /// … and refers to these, without changing them.
    pub fn and_refers(mut self, more: impl IntoIterator<Item = Entity>) -> Self {
        self.refers.extend(more);
        self
    }

    /// … and changes these, whether or not they were made here.
    pub fn and_sets(mut self, more: impl IntoIterator<Item = Entity>) -> Self {
        self.changes.extend(more);
        self
    }

    /// Everything the op names, each once.
    pub fn named(&self) -> Vec<Entity> {
        once(self.makes.iter().chain(&self.changes).chain(&self.refers))
    }

    /// Everything whose state rests on the op, each once; nothing for a log.
    pub fn touched(&self) -> Vec<Entity> {
        if self.log { Vec::new() } else { once(self.makes.iter().chain(&self.changes)) }
    }
}

fn once<'a>(entities: impl Iterator<Item = &'a Entity>) -> Vec<Entity> {
    let mut all: Vec<Entity> = entities.copied().collect();
    all.sort_unstable();
    all.dedup();
    all
}
