//! The state of a room: every area's folds put together, and the room held in memory. Names every area, decides
//! nothing.

mod across;
mod dates;
mod entity;
mod evidence;
mod memory;
mod odd;
mod otherwise;
mod quarantine;
mod touched;
mod views;
mod waters;

pub use across::across;
pub use entity::{EntityState, RoomText, fold_entity};
pub use evidence::evidence;
pub use memory::{Entry, Memory};
pub use quarantine::{Blocker, Quarantine, Recalls, reading, recalls};
pub use views::{RoomStates, view};
