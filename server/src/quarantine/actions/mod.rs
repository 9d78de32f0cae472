//! What can be done about quarantine: read a unit, sign it off, name a room's home club, tell what is coming.

mod ahead;
pub mod coming;
mod home_club;
mod read;
pub mod record;
mod sign_off;
mod units;

pub use ahead::ahead;
pub use home_club::{adopt_rules, set_home_club};
pub use read::{SignedLook, UnitLook, rooms_to_sign, signed, unit};
pub use sign_off::{Signature, Signed, in_the_way, sign_off};
pub use units::{Looked, RoomUnits, desk, held_until, room_units, unit_for};
