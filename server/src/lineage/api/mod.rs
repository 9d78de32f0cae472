//! Lineage over JSON.

pub mod ancestry;
pub mod brood;
pub mod groups;
pub mod published;
