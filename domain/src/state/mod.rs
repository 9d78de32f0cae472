//! The state of a room: every area's folds put together, and the room held in memory. Names every area, decides
//! nothing.

mod entity;
mod memory;
mod views;

pub use entity::{EntityState, RoomText, fold_entity};
pub use memory::{Entry, Memory};
pub use views::{RoomStates, view};
