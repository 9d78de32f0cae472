//! Quarantine: the clock, the unit, the sign-off. (The rule is the club's.) A quarantine is derived from a room's
//! records, never written. Water is what is held, not glass: see `clock.rs` for the order of things, `mixing.rs` for
//! what sharing water does, `losses.rs` for what begins the days again.

mod clearing;
mod clock;
mod company;
mod facts;
mod handing;
mod held;
mod losses;
mod member;
mod mixing;
mod moment;
mod opening;
mod ops;
pub mod parasites;
mod residue;
mod sign_off;
mod standing;
mod taint;
mod unit;
mod view;
mod waits;
mod waived;
mod water;

pub use crate::clubs::{RestartOn, Rule, RuleError, SharedWater, TreatmentClock, UnopenedBag};
pub use clock::{Reading, bears_out, read, read_on};
pub use facts::{Adopted, FactEvent, Opening, OwnRule, RoomFacts, SignedOff, fold_facts};
pub use held::Held;
pub use losses::is_named_loss;
pub use member::{Cause, Member, Run, Why};
pub use ops::{
    BlockerKind, HomeClubSet, LossJudged, QuarantineCleared, QuarantineRecalled, QuarantineRestarted,
    QuarantineWaived, RoomRuleSet, RuleAdopted, RuleVersion, Seen, Waiver,
};
pub use sign_off::{NOT_A_CERTIFICATE, SignOff, SignOffRefusal, may_sign, words};
pub use standing::Kept;
pub use taint::{Gap, Mark, MarkKind};
pub use unit::{Unit, UnitState};
pub use view::{Evidence, RoomView, SignOffs};
