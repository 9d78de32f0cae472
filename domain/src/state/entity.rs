//! Which fold makes the state of which kind of thing, out of which part of each op.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::Arc;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::catalogue::Body;
use crate::lineage::{
    BroodEvent, BroodState, EggsCollected, EggsHatched, Hatch, SpawningEvent, SpawningState, fold_brood,
    fold_spawning,
};
use crate::parcels::{ParcelEvent, ParcelState, fold_parcel, rows_of};
use crate::quarantine::{FactEvent, RoomFacts, fold_facts};
use crate::rooms::ops::Sexing;
use crate::rooms::{
    Came, Description, Finding, Node, Row, Sex, StockEvent, StockFold, StockState, SystemEvent, SystemState,
    TankEvent, TankState, TreatmentEvent, TreatmentState, fold_stock, fold_system, fold_tank, fold_treatment,
};
use crate::streams::{Entity, EntityKind, NodeId, Patch, StockId, Touch, canonical, sort};

/// The state of one thing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", content = "state", rename_all = "snake_case")]
pub enum EntityState {
    /// The room's clubs, rules and sign-offs.
    Room(RoomFacts),
    /// A water system.
    System(SystemState),
    /// A tank.
    Tank(TankState),
    /// A stock.
    Stock(Box<StockState>),
    /// A brood.
    Brood(Box<BroodState>),
    /// A parcel.
    Parcel(Box<ParcelState>),
    /// A treatment.
    Treatment(Box<TreatmentState>),
    /// A spawning.
    Spawning(Box<SpawningState>),
}

impl EntityState {
    /// What contradicts itself in it.
    pub fn findings(&self) -> Vec<Finding> {
        match self {
            Self::Room(_) => Vec::new(),
            Self::System(s) => s.findings.iter().copied().collect(),
            Self::Tank(s) => s.findings.iter().copied().collect(),
            Self::Stock(s) => s.findings.iter().copied().collect(),
            Self::Brood(s) => s.findings.iter().copied().collect(),
            Self::Parcel(s) => s.findings.iter().copied().collect(),
            Self::Treatment(s) => s.findings.iter().copied().collect(),
            Self::Spawning(s) => s.findings.iter().copied().collect(),
        }
    }

    fn value(&self) -> Value {
        let value = match self {
            Self::Room(s) => serde_json::to_value(s),
            Self::System(s) => serde_json::to_value(s),
            Self::Tank(s) => serde_json::to_value(s),
            Self::Stock(s) => serde_json::to_value(s),
            Self::Brood(s) => serde_json::to_value(s),
            Self::Parcel(s) => serde_json::to_value(s),
            Self::Treatment(s) => serde_json::to_value(s),
            Self::Spawning(s) => serde_json::to_value(s),
        };
        value.unwrap_or(Value::Null)
    }
}

/// Folds one thing from the ops that touch it, in any order.
pub fn fold_entity(entity: Entity, mut touches: Vec<Touch<Arc<Body>>>) -> EntityState {
    sort(&mut touches);
    fold_sorted(entity, &touches)
}

/// Folds one thing from the ops that touch it, in their order.
pub(super) fn fold_sorted(entity: Entity, touches: &[Touch<Arc<Body>>]) -> EntityState {
    match entity.kind {
        EntityKind::Room => EntityState::Room(fold_facts(&pick(touches, fact_event))),
        EntityKind::System => EntityState::System(fold_system(&pick(touches, system_event))),
        EntityKind::Tank => EntityState::Tank(fold_tank(&pick(touches, tank_event))),
        EntityKind::Stock => {
            let stock = StockId(entity.id);
            EntityState::Stock(Box::new(fold_stock(&pick(touches, |body| stock_event(body, stock)))))
        }
        EntityKind::Brood => {
            let node = NodeId(entity.id);
            EntityState::Brood(Box::new(fold_brood(node, &pick(touches, brood_event))))
        }
        EntityKind::Parcel => EntityState::Parcel(Box::new(fold_parcel(&pick(touches, parcel_event)))),
        EntityKind::Treatment => {
            EntityState::Treatment(Box::new(fold_treatment(&pick(touches, treatment_event))))
        }
        EntityKind::Spawning => {
            EntityState::Spawning(Box::new(fold_spawning(&pick(touches, spawning_event))))
        }
    }
}

/// Folds on to a stock what ops say of it that come after those that were folded, in their order.
pub(super) fn fold_on(fold: &mut StockFold, stock: StockId, touches: &[Touch<Arc<Body>>]) {
    for touch in touches {
        if let Some(event) = stock_event(&touch.event, stock) {
            fold.take_in(&touch.with(event));
        }
    }
}

/// What each op says of the thing, as a view into the op.
fn pick<'a, E>(touches: &'a [Touch<Arc<Body>>], event: impl Fn(&'a Body) -> Option<E>) -> Vec<Touch<E>> {
    touches.iter().filter_map(|touch| Some(touch.with(event(&touch.event)?))).collect()
}

fn fact_event(body: &Body) -> Option<FactEvent<'_>> {
    match body {
        Body::RuleAdopted(b) => Some(FactEvent::Rule(b)),
        Body::HomeClubSet(b) => Some(FactEvent::Home(b)),
        Body::QuarantineCleared(b) => Some(FactEvent::Cleared(b)),
        Body::QuarantineWaived(b) => Some(FactEvent::Waived(b)),
        Body::LossJudged(b) => Some(FactEvent::Judged(b)),
        Body::RoomRuleSet(b) => Some(FactEvent::Own(b)),
        _ => None,
    }
}

fn system_event(body: &Body) -> Option<SystemEvent<'_>> {
    match body {
        Body::SystemSet(b) => Some(SystemEvent::Set(b)),
        Body::SystemJoined(b) => Some(SystemEvent::Joined(b)),
        Body::TankEmptied(b) => Some(SystemEvent::Emptied(b)),
        _ => None,
    }
}

fn treatment_event(body: &Body) -> Option<TreatmentEvent<'_>> {
    match body {
        Body::TreatmentBegan(b) => Some(TreatmentEvent::Began(b)),
        Body::TreatmentEnded(b) => Some(TreatmentEvent::Ended(b)),
        _ => None,
    }
}

fn tank_event(body: &Body) -> Option<TankEvent<'_>> {
    match body {
        Body::TankAdded(b) => Some(TankEvent::Added(b)),
        Body::TankDescribed(b) => Some(TankEvent::Described(b)),
        Body::TankPlumbed(b) => Some(TankEvent::Plumbed(b)),
        Body::TankHung(b) => Some(TankEvent::Hung(b)),
        Body::TankEmptied(b) => Some(TankEvent::Emptied(b)),
        _ => None,
    }
}

fn brood_event(body: &Body) -> Option<BroodEvent<'_>> {
    match body {
        Body::YoungFound(b) => Some(BroodEvent::Found(b)),
        Body::EggsCollected(b) => Some(BroodEvent::Collected(b)),
        Body::BroodCorrected(b) => Some(BroodEvent::Corrected(b)),
        Body::BroodRenamed(b) => Some(BroodEvent::Renamed(b)),
        Body::BroodTold(b) => Some(BroodEvent::Told(b.into())),
        Body::HistoryTold(b) => Some(BroodEvent::Told(b.into())),
        _ => None,
    }
}

fn spawning_event(body: &Body) -> Option<SpawningEvent<'_>> {
    match body {
        Body::PairSetUp(b) => Some(SpawningEvent::SetUp(b)),
        Body::SpawnSeen(b) => Some(SpawningEvent::Seen(b)),
        Body::DropSeen(b) => Some(SpawningEvent::Dropped(b)),
        Body::EggsCollected(b) => Some(SpawningEvent::Collected(b)),
        Body::YoungFound(b) => Some(SpawningEvent::Found(b)),
        Body::EggsChecked(b) => Some(SpawningEvent::Checked(b)),
        Body::EggsHatched(b) => Some(SpawningEvent::Hatched(b)),
        Body::YoungSwam(b) => Some(SpawningEvent::Swam(b)),
        Body::SpawningFailed(b) => Some(SpawningEvent::Failed(b)),
        _ => None,
    }
}

/// The rows of picked eggs.
fn eggs(b: &EggsCollected) -> Vec<Row> {
    vec![Row { node: Node::Of(b.brood), sex: Sex::Eggs, n: b.n, about: b.about }]
}

/// Eggs that are young now.
fn hatched(b: &EggsHatched) -> Vec<Sexing> {
    let turned = |row: &Hatch| Sexing { node: row.node, from: Sex::Eggs, to: Sex::Unsexed, n: row.n };
    b.rows.iter().map(turned).collect()
}

fn parcel_event(body: &Body) -> Option<ParcelEvent<'_>> {
    match body {
        Body::ParcelPacked(b) => Some(ParcelEvent::Packed(b)),
        Body::ParcelHanded(b) => Some(ParcelEvent::Handed(b)),
        Body::ParcelSent(b) => Some(ParcelEvent::Sent(b.into())),
        Body::ParcelArrived(b) => Some(ParcelEvent::Arrived(b)),
        Body::HistorySent(b) => Some(ParcelEvent::Sent(b.into())),
        Body::HistoryMatched(b) => Some(ParcelEvent::Matched(b.into())),
        Body::ParcelRecalled(_) => Some(ParcelEvent::Recalled),
        Body::ParcelMatched(b) => Some(ParcelEvent::Matched(b.into())),
        Body::ParcelReceived(b) => Some(ParcelEvent::Received(b)),
        Body::ParcelSettled(b) => Some(ParcelEvent::Settled(b)),
        Body::ParcelAgreed(b) => Some(ParcelEvent::Agreed(b)),
        _ => None,
    }
}

/// What an op says of one stock.
fn stock_event(body: &Body, stock: StockId) -> Option<StockEvent<'_>> {
    let of = |name: &Option<String>, species: &Option<String>, form: &Option<String>| Description {
        name: Patch::of(name.clone()),
        species: Patch::of(species.clone()),
        form: Patch::of(form.clone()),
        ..Description::default()
    };
    Some(match body {
        Body::StockEstablished(b) => StockEvent::Made {
            came: Came::Established,
            rows: Cow::Borrowed(&b.rows),
            place: b.tank,
            description: Box::new(Description {
                keeping: Patch::of(b.keeping),
                ..of(&b.name, &b.species, &b.form)
            }),
            founders: b.founders.as_ref(),
        },
        Body::StockCameIn(b) => StockEvent::Made {
            came: Came::In { from: b.from },
            rows: Cow::Borrowed(&b.rows),
            place: b.tank,
            description: Box::new(Description {
                keeping: Patch::of(b.keeping),
                ..of(&b.name, &b.species, &b.form)
            }),
            founders: Some(&b.founders),
        },
        Body::YoungFound(b) => StockEvent::Made {
            came: Came::Born { brood: b.brood },
            rows: Cow::Borrowed(&b.rows),
            place: b.tank,
            description: Box::new(of(&Some(b.code.clone()), &b.name.species, &b.name.form)),
            founders: None,
        },
        Body::EggsCollected(b) => StockEvent::Made {
            came: Came::Born { brood: b.brood },
            rows: Cow::Owned(eggs(b)),
            place: b.tank,
            description: Box::new(of(&b.name, &b.species, &b.form)),
            founders: None,
        },
        Body::ParcelArrived(b) => StockEvent::Made {
            came: Came::Parcel { parcel: b.parcel },
            rows: Cow::Borrowed(&b.alive),
            place: b.tank,
            description: Box::new(of(&b.name, &b.species, &b.form)),
            founders: None,
        },
        Body::StockSplit(b) if b.stock == b.new => StockEvent::Named,
        Body::StockSplit(b) if b.new == stock => StockEvent::Made {
            came: Came::Split { of: b.stock },
            rows: Cow::Borrowed(&b.rows),
            place: b.tank,
            description: Box::new(of(&b.name, &None, &None)),
            founders: None,
        },
        Body::StockSplit(b) => StockEvent::Went(Cow::Borrowed(&b.rows)),
        Body::StockMerged(b) if b.stock == b.into => StockEvent::Named,
        Body::StockMerged(b) if b.into == stock => StockEvent::Joined(b.stock, &b.rows),
        Body::StockMerged(b) => StockEvent::Merged(&b.rows),
        Body::StockLost(b) => {
            let reason = b.reason.as_ref().is_some_and(|why| !why.trim().is_empty());
            StockEvent::Lost(&b.rows, b.cause, reason)
        }
        Body::StockLeft(b) => StockEvent::Left(&b.rows),
        Body::ParcelSent(b) => StockEvent::Went(Cow::Owned(rows_of(&b.rows, stock))),
        Body::ParcelMatched(b) => StockEvent::ToldApart(&b.told_apart),
        Body::HistorySent(b) => StockEvent::Went(Cow::Owned(rows_of(&b.rows, stock))),
        Body::HistoryMatched(b) => StockEvent::ToldApart(&b.told_apart),
        Body::HistoryTakenIn(_) => StockEvent::TakenIn,
        Body::StockCounted(b) => StockEvent::Counted(&b.rows, b.all),
        Body::StockSexed(b) => StockEvent::Sexed(Cow::Borrowed(&b.rows)),
        Body::EggsHatched(b) => StockEvent::Sexed(Cow::Owned(hatched(b))),
        Body::StockMoved(b) => StockEvent::Moved { from: b.from, to: b.to, companion: b.companion },
        Body::StockDescribed(b) => StockEvent::Described(Box::new(b.into())),
        _ => return None,
    })
}

/// The canonical text of a room's state: by kind and id, RFC 8785. Two devices that hold the same ops write the
/// same bytes.
#[derive(Debug, Default)]
pub struct RoomText(BTreeMap<&'static str, serde_json::Map<String, Value>>);

impl RoomText {
    /// Takes one thing in.
    pub fn add(&mut self, entity: Entity, state: &EntityState) {
        self.0.entry(entity.kind.word()).or_default().insert(entity.id.to_string(), state.value());
    }

    /// The text.
    pub fn finish(self) -> String {
        let all: serde_json::Map<String, Value> =
            self.0.into_iter().map(|(kind, things)| (kind.to_owned(), Value::Object(things))).collect();
        canonical::text(&Value::Object(all))
    }
}
