//! Quarantine: the clock, the unit, the sign-off. (The rule is the club's.) A quarantine is derived from a room's records, never
//! written. So far the plain clock: days, and arrivals into the same water under both rules.

mod clock;
mod facts;
mod handing;
mod member;
mod moment;
mod ops;
pub mod parasites;
mod sign_off;
mod unit;
mod water;

pub use crate::clubs::{RestartOn, Rule, RuleError, SharedWater, TreatmentClock, UnopenedBag};
pub use clock::{RoomView, units};
pub use facts::{Adopted, FactEvent, RoomFacts, SignedOff, fold_facts};
pub use member::{Cause, Member};
pub use ops::{HomeClubSet, QuarantineCleared, RuleAdopted, RuleVersion, Seen, Waiver};
pub use sign_off::{NOT_A_CERTIFICATE, SignOff, SignOffRefusal, may_sign, words};
pub use unit::{Unit, UnitState};
