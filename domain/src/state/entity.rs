//! Which fold makes the state of which kind of thing, out of which part of each op.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::catalogue::Body;
use crate::lineage::{BroodState, YoungFound, fold_brood};
use crate::parcels::{ParcelEvent, ParcelState, fold_parcel, rows_of};
use crate::quarantine::{FactEvent, RoomFacts, fold_facts};
use crate::rooms::{
    Came, Description, Finding, StockEvent, StockState, SystemState, TankEvent, TankState, fold_stock,
    fold_system, fold_tank, ops::SystemSet,
};
use crate::streams::{Entity, EntityKind, Patch, StockId, Touch, canonical, sort};

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
        };
        value.unwrap_or(Value::Null)
    }
}

/// Folds one thing from the ops that touch it, in any order.
pub fn fold_entity(entity: Entity, mut touches: Vec<Touch<Arc<Body>>>) -> EntityState {
    sort(&mut touches);
    match entity.kind {
        EntityKind::Room => EntityState::Room(fold_facts(&pick(touches, fact_event))),
        EntityKind::System => EntityState::System(fold_system(&pick(touches, system_event))),
        EntityKind::Tank => EntityState::Tank(fold_tank(&pick(touches, tank_event))),
        EntityKind::Stock => {
            let stock = StockId(entity.id);
            EntityState::Stock(Box::new(fold_stock(&pick(touches, |body| stock_event(body, stock)))))
        }
        EntityKind::Brood => EntityState::Brood(Box::new(fold_brood(&pick(touches, brood_event)))),
        EntityKind::Parcel => EntityState::Parcel(Box::new(fold_parcel(&pick(touches, parcel_event)))),
    }
}

fn pick<E>(touches: Vec<Touch<Arc<Body>>>, event: impl Fn(&Body) -> Option<E>) -> Vec<Touch<E>> {
    let one = |touch: Touch<Arc<Body>>| {
        let event = event(&touch.event)?;
        Some(touch.map(|_| event))
    };
    touches.into_iter().filter_map(one).collect()
}

fn fact_event(body: &Body) -> Option<FactEvent> {
    match body {
        Body::RuleAdopted(b) => Some(FactEvent::Rule(b.clone())),
        Body::HomeClubSet(b) => Some(FactEvent::Home(b.clone())),
        Body::QuarantineCleared(b) => Some(FactEvent::Cleared(b.clone())),
        _ => None,
    }
}

fn system_event(body: &Body) -> Option<SystemSet> {
    if let Body::SystemSet(b) = body { Some(b.clone()) } else { None }
}

fn tank_event(body: &Body) -> Option<TankEvent> {
    match body {
        Body::TankAdded(b) => Some(TankEvent::Added(b.clone())),
        Body::TankDescribed(b) => Some(TankEvent::Described(b.clone())),
        Body::TankPlumbed(b) => Some(TankEvent::Plumbed(b.clone())),
        _ => None,
    }
}

fn brood_event(body: &Body) -> Option<YoungFound> {
    if let Body::YoungFound(b) = body { Some(b.clone()) } else { None }
}

fn parcel_event(body: &Body) -> Option<ParcelEvent> {
    match body {
        Body::ParcelPacked(b) => Some(ParcelEvent::Packed(b.clone())),
        Body::ParcelHanded(b) => Some(ParcelEvent::Handed(b.clone())),
        Body::ParcelSent(b) => Some(ParcelEvent::Sent(b.clone())),
        Body::ParcelArrived(b) => Some(ParcelEvent::Arrived(b.clone())),
        _ => None,
    }
}

/// What an op says of one stock.
fn stock_event(body: &Body, stock: StockId) -> Option<StockEvent> {
    let of = |name: &Option<String>, species: &Option<String>, form: &Option<String>| Description {
        name: Patch::of(name.clone()),
        species: Patch::of(species.clone()),
        form: Patch::of(form.clone()),
        ..Description::default()
    };
    Some(match body {
        Body::StockEstablished(b) => StockEvent::Made {
            came: Came::Established,
            rows: b.rows.clone(),
            place: b.tank,
            description: Box::new(Description {
                keeping: Patch::of(b.keeping),
                ..of(&b.name, &b.species, &b.form)
            }),
            founders: b.founders.clone(),
        },
        Body::StockCameIn(b) => StockEvent::Made {
            came: Came::In { from: b.from },
            rows: b.rows.clone(),
            place: b.tank,
            description: Box::new(Description {
                keeping: Patch::of(b.keeping),
                ..of(&b.name, &b.species, &b.form)
            }),
            founders: Some(b.founders.clone()),
        },
        Body::YoungFound(b) => StockEvent::Made {
            came: Came::Born { brood: b.brood },
            rows: b.rows.clone(),
            place: b.tank,
            description: Box::new(of(&Some(b.code.clone()), &b.name.species, &b.name.form)),
            founders: None,
        },
        Body::ParcelArrived(b) => StockEvent::Made {
            came: Came::Parcel { parcel: b.parcel },
            rows: b.alive.clone(),
            place: b.tank,
            description: Box::new(of(&b.name, &b.species, &b.form)),
            founders: None,
        },
        Body::StockSplit(b) if b.stock == b.new => StockEvent::Named,
        Body::StockSplit(b) if b.new == stock => StockEvent::Made {
            came: Came::Split { of: b.stock },
            rows: b.rows.clone(),
            place: b.tank,
            description: Box::new(of(&b.name, &None, &None)),
            founders: None,
        },
        Body::StockSplit(b) => StockEvent::Went(b.rows.clone()),
        Body::StockMerged(b) if b.stock == b.into => StockEvent::Named,
        Body::StockMerged(b) if b.into == stock => StockEvent::Joined(b.stock, b.rows.clone()),
        Body::StockMerged(b) => StockEvent::Merged(b.rows.clone()),
        Body::StockLost(b) => StockEvent::Lost(b.rows.clone(), b.cause),
        Body::StockLeft(b) => StockEvent::Went(b.rows.clone()),
        Body::ParcelSent(b) => StockEvent::Went(rows_of(&b.rows, stock)),
        Body::StockCounted(b) => StockEvent::Counted(b.rows.clone(), b.all),
        Body::StockSexed(b) => StockEvent::Sexed(b.rows.clone()),
        Body::StockMoved(b) => StockEvent::Moved { from: b.from, to: b.to },
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
