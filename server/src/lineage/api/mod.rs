//! Lineage over JSON.

pub mod brood;
pub mod groups;
pub mod published;
