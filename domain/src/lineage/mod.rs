//! Lineage: spawnings step by step, the broods they make, and where those come from.

mod ancestry;
mod brood;
mod candidates;
mod ops;
mod spawning;
mod steps;

pub use ancestry::{ancestry, of_brood, of_founders};
pub use brood::{BroodEvent, BroodState, fold_brood};
pub use candidates::{Candidate, Candidates, Mated, Search, candidates, of_sex};
pub use ops::{Ancestor, BroodName, Draw, Parents, ParentsOf, Window, YoungFound, stocks_of};
pub use spawning::{SpawningEvent, SpawningState, Stage, Step, StepKind, fold_spawning};
pub use steps::{
    EggsChecked, EggsCollected, EggsHatched, Hatch, NewBrood, SpawningFailed, Together, WhyFailed, YoungSwam,
};
