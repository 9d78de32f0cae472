//! Lineage: broods and where they come from. So far the one step that makes a brood, in its final form.

mod ancestry;
mod brood;
mod ops;

pub use ancestry::{ancestry, of_brood, of_founders};
pub use brood::{BroodState, fold_brood};
pub use ops::{Ancestor, BroodName, Draw, Parents, ParentsOf, Window, YoungFound};
