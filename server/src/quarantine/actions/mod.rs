//! What can be done about quarantine: read a unit, sign it off, name a room's home club, tell what is coming.

mod ahead;
mod begin_again;
pub mod coming;
mod home_club;
mod read;
mod recall;
pub mod record;
mod sign_off;
mod units;
mod waive;

pub use ahead::ahead;
pub use begin_again::begin_again;
pub use home_club::{adopt_rules, set_home_club};
pub use read::{SignedLook, UnitLook, opened, rooms_to_sign, signed, unit};
pub use recall::{RECALLED, recalled};
pub use sign_off::{Passed, Seat, Signature, Signed, missing, refusal, seat, sign_off};
pub use units::{Looked, RoomUnits, clubs_of, desk, room_units, unit_for};
pub use waive::{Judgement, Letting, judge, waive};
