//! Lineage: spawnings step by step, the broods they make, and where those come from.

mod ancestry;
mod breeders;
mod brood;
mod candidates;
mod circles;
mod copy;
mod cross;
pub mod graph;
mod ops;
mod spawning;
mod steps;
mod told;

pub use ancestry::{Records, ancestry, group_of};
pub use breeders::{Groups, breeders_id, unnamed_sire};
pub use brood::{BroodEvent, BroodState, Change, fold_brood};
pub use candidates::{Candidate, Candidates, Mated, Search, candidates, of_sex};
pub use copy::{
    Ancestor, BreedersCopy, BroodCopy, Foreign, FoundersCopy, Kin, ShareCopy, SideCopy, from_elsewhere,
};
pub use cross::{crosses, differ};
pub use ops::{BadParents, BroodName, Draw, Parents, ParentsOf, Window, YoungFound, stocks_of};
pub use spawning::{SpawningEvent, SpawningState, Stage, Step, StepKind, fold_spawning};
pub use steps::{
    EggsChecked, EggsCollected, EggsHatched, Hatch, NewBrood, SpawningFailed, Together, WhyFailed, YoungSwam,
};
pub use told::{BroodCorrected, BroodRenamed, BroodTold, HistoryTold, NameEdit, Telling};
