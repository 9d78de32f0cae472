//! The state of a room: every area's folds put together, and the room held in memory. Names every area, decides
//! nothing.

mod dates;
mod entity;
mod evidence;
mod memory;
mod odd;
mod otherwise;
mod parents;
mod quarantine;
mod touched;
mod views;
mod waters;

pub use entity::{EntityState, RoomText, fold_entity};
pub use evidence::evidence;
pub use memory::{Entry, Memory};
pub use parents::parents_otherwise;
pub use quarantine::{Blocker, Quarantine, Recalls, reading, recalls};
pub use views::{RoomStates, view};
