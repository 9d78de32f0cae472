//! Quarantine: the rule, the clock, the unit, the sign-off. A quarantine is derived from a room's records, never
//! written. So far the plain clock: days, and arrivals into the same water under both rules.

mod clock;
mod facts;
mod member;
mod moment;
mod ops;
mod rule;
mod sign_off;
mod unit;
mod water;

pub use clock::{RoomView, units};
pub use facts::{Adopted, FactEvent, RoomFacts, SignedOff, fold_facts};
pub use member::{Cause, Member};
pub use ops::{HomeClubSet, QuarantineCleared, RuleAdopted, RuleVersion, Seen, Waiver};
pub use rule::{RestartOn, Rule, RuleError, SharedWater, TreatmentClock, UnopenedBag};
pub use sign_off::{NOT_A_CERTIFICATE, SignOff, SignOffRefusal, may_sign, words};
pub use unit::{Unit, UnitState};
