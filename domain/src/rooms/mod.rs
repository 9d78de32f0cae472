//! Rooms: water systems, tanks, stocks, and the logs about them. Knows nothing of lineage, parcels or
//! quarantine: what those do to a stock comes in as [`StockEvent`]s.

pub mod choose;
mod field;
mod finding;
mod growth;
pub mod numbers;
pub mod ops;
mod stay;
mod stock;
mod tank;
mod treatment;
mod turn;
mod typed;
pub mod water;
pub mod words;

pub use field::Field;
pub use finding::{Finding, FindingKind};
pub use growth::Grew;
pub use numbers::{Count, Node, Numbers, Row, Sex, Spread};
pub use ops::{Founders, Millilitres, Names};
pub use stay::{Place, Stay};
pub use stock::{Came, Description, StockEvent, StockFold, StockState, fold_stock};
pub use tank::{
    EmptiedAt, Plumbing, Sharing, SystemEvent, SystemState, TankEvent, TankState, fold_system, fold_tank,
};
pub use treatment::{TreatmentEvent, TreatmentState, fold_treatment};
pub use turn::{Turn, TurnKind};
pub use typed::{NotNumbers, Typed};

pub(crate) use tank::common_findings;
